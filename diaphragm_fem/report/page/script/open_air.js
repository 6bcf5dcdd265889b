// Free air before a face in a baffle: modes of the air up to a sphere, waves that leave it joined at every frequency.

/** Matrices of one open side; rows of `both` are modes of the air, columns patterns of the face and then waves. */
function readOpenSide(data) {
  const count = data.pattern.shape[1], all = data.both.shape[1], triangle = (all * (all + 1)) / 2;
  const rest = Array.from({ length: data.rest.shape[0] }, (_, k) => whole(data.rest, all, k * triangle));
  return { ...data, count, waves: all - count, all, rest };
}

/** The load on the patterns, and the waves per motion of each, at one frequency. */
function openAirAt(side, hz) {
  const { count: N, waves: H, all, air } = side, omega = 2 * Math.PI * hz, k = omega / air.sound_speed, k2 = k * k;
  const small = new Float64Array(all * all);
  side.rest.forEach((matrix, power) => {
    for (let i = 0; i < small.length; i++) small[i] += k2 ** power * matrix[i];
  });
  for (let m = 0; m < side.squares.length; m++) {
    const weight = 1 / (side.squares[m] - k2), row = m * all;
    for (let a = 0; a < all; a++) {
      const by = weight * side.both[row + a];
      for (let b = 0; b < all; b++) small[a * all + b] += by * side.both[row + b];
    }
  }
  const q = hankelRatios(side.order[H - 1], k * side.radius);
  const scale = Array.from(side.order, (n) => (2 * n + 1) / side.area);
  const added = Array.from(side.order, (n, h) => {
    const slope = c.sub(c.div([1, 0], q[n]), [(n + 1) / (k * side.radius), 0]);
    return c.times(c.add(c.times(slope, k), [side.stand_in, 0]), -scale[h]);
  });
  const re = new Float64Array(H * H), im = new Float64Array(H * H), seenRe = new Float64Array(H * N), seenIm = new Float64Array(H * N);
  for (let h = 0; h < H; h++) {
    const from = (N + h) * all;
    for (let j = 0; j < H; j++) [re[h * H + j], im[h * H + j]] = [added[h][0] * small[from + N + j] + (h === j), added[h][1] * small[from + N + j]];
    for (let a = 0; a < N; a++) [seenRe[h * N + a], seenIm[h * N + a]] = c.times(added[h], small[from + a]);
  }
  solveComplex(re, im, seenRe, seenIm, H, N);
  const load = -air.density * omega * omega;
  const zRe = new Float64Array(N * N), zIm = new Float64Array(N * N), waveRe = new Float64Array(H * N), waveIm = new Float64Array(H * N);
  for (let b = 0; b < N; b++) {
    for (let a = 0; a < N; a++) {
      let sRe = small[a * all + b], sIm = 0;
      for (let h = 0; h < H; h++) {
        const by = small[(N + h) * all + a];
        sRe -= by * seenRe[h * N + b];
        sIm -= by * seenIm[h * N + b];
      }
      [zRe[a * N + b], zIm[a * N + b]] = [load * sRe, load * sIm];
    }
    for (let h = 0; h < H; h++) {
      let sRe = small[(N + h) * all + b], sIm = 0;
      for (let j = 0; j < H; j++) {
        const by = small[(N + h) * all + N + j];
        sRe -= by * seenRe[j * N + b];
        sIm -= by * seenIm[j * N + b];
      }
      [waveRe[h * N + b], waveIm[h * N + b]] = [load * scale[h] * sRe, load * scale[h] * sIm];
    }
  }
  return { zRe, zIm, waveRe, waveIm, k };
}

/** D += P Z P^T. */
function addOpenSide(re, im, width, n, side, at) {
  const N = side.count, half = { re: new Float64Array(n * N), im: new Float64Array(n * N) };
  for (let i = 0; i < n; i++) {
    for (let a = 0; a < N; a++) {
      const by = side.pattern[i * N + a];
      for (let b = 0; b < N; b++) {
        half.re[i * N + b] += by * at.zRe[a * N + b];
        half.im[i * N + b] += by * at.zIm[a * N + b];
      }
    }
  }
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < n; j++) {
      for (let b = 0; b < N; b++) {
        re[i * width + j] += half.re[i * N + b] * side.pattern[j * N + b];
        im[i * width + j] += half.im[i * N + b] * side.pattern[j * N + b];
      }
    }
  }
}

/** Pressure on the axis at the side's distance, for unknowns x (n,) of the small structure. */
function axisPressure(side, at, xRe, xIm, n) {
  const { count: N, waves: H } = side, motion = [];
  for (let a = 0; a < N; a++) {
    let sum = [0, 0];
    for (let i = 0; i < n; i++) sum = c.add(sum, [side.pattern[i * N + a] * xRe[i], side.pattern[i * N + a] * xIm[i]]);
    motion.push(sum);
  }
  const near = hankelRatios(side.order[H - 1], at.k * side.radius), far = hankelRatios(side.order[H - 1], at.k * side.distance);
  const turn = at.k * (side.radius - side.distance), spread = side.radius / side.distance;
  let carried = [spread * Math.cos(turn), spread * Math.sin(turn)], found = [0, 0], n0 = 0;
  for (let h = 0; h < H; h++) {
    for (; n0 < side.order[h]; n0++) carried = c.mul(carried, c.div(far[n0 + 1], near[n0 + 1]));
    let wave = [0, 0];
    for (let a = 0; a < N; a++) wave = c.add(wave, c.mul([at.waveRe[h * N + a], at.waveIm[h * N + a]], motion[a]));
    found = c.add(found, c.mul(wave, carried));
  }
  return found;
}

/** h_n/h_(n-1) for n = 0 ... most of the outgoing spherical waves. */
function hankelRatios(most, x) {
  const q = [[0, 1]];
  for (let n = 0; n < most; n++) q.push(c.sub([(2 * n + 1) / x, 0], c.div([1, 0], q[n])));
  return q;
}
