// Free air before a face in a baffle: modes of the elements up to a sphere, outgoing waves beyond it.

/** h_n(x)/h_(n-1)(x) of the outgoing spherical Hankel functions, n from 1; what log slopes and spreading are made of. */
function hankelRatios(most, x) {
  const found = [null, [1 / x, 1]]; // h_1/h_0 = 1/x + i
  for (let n = 1; n < most; n++) found.push(c.sub([(2 * n + 1) / x, 0], c.div([1, 0], found[n])));
  return found;
}

/** h_n'(x)/h_n(x). */
const logSlope = (ratio, n, x) => (n ? c.sub(c.div([1, 0], ratio[n]), [(n + 1) / x, 0]) : c.sub([-1 / x, 0], [0, 1]));

/** At one frequency: pressure on the patterns (N, N), and Legendre coefficients (H, N), per generalised velocity over i omega rho. */
function openAirAt(side, omega) {
  if (side.known?.omega === omega) return side.known;
  const k = omega / side.sound_speed, modes = side.squares.length, N = side.push.shape[1], H = side.order.length, all = N + H;
  const small = new Float64Array(all * all), row = new Float64Array(all);
  for (let m = 0; m < modes; m++) {
    const weight = 1 / (side.squares[m] - k * k);
    for (let a = 0; a < N; a++) row[a] = side.push[m * N + a];
    for (let a = 0; a < H; a++) row[N + a] = side.moments[m * H + a];
    for (let a = 0; a < all; a++) for (let b = 0; b < all; b++) small[a * all + b] += weight * row[a] * row[b];
  }
  const x = k * side.radius, ratio = hankelRatios(side.order[H - 1] + 1, x);
  const scale = Array.from(side.order, (n) => (2 * n + 1) / side.area);
  const added = Array.from(side.order, (n, h) => c.times(c.add(c.times(logSlope(ratio, n, x), k), [side.stand_in, 0]), -scale[h]));
  const re = new Float64Array(H * H), im = new Float64Array(H * H), sRe = new Float64Array(H * N), sIm = new Float64Array(H * N);
  for (let h = 0; h < H; h++) {
    for (let g = 0; g < H; g++) {
      const among = small[(N + h) * all + N + g];
      re[h * H + g] = (h === g ? 1 : 0) + added[h][0] * among;
      im[h * H + g] = added[h][1] * among;
    }
    for (let a = 0; a < N; a++) {
      const faced = small[(N + h) * all + a];
      sRe[h * N + a] = added[h][0] * faced;
      sIm[h * N + a] = added[h][1] * faced;
    }
  }
  solveComplex(re, im, sRe, sIm, H, N);
  const pRe = new Float64Array(N * N), pIm = new Float64Array(N * N), wRe = new Float64Array(H * N), wIm = new Float64Array(H * N);
  for (let a = 0; a < N; a++) {
    for (let b = 0; b < N; b++) {
      pRe[a * N + b] = small[a * all + b];
      for (let h = 0; h < H; h++) {
        const faced = small[(N + h) * all + a];
        pRe[a * N + b] -= faced * sRe[h * N + b];
        pIm[a * N + b] -= faced * sIm[h * N + b];
      }
    }
  }
  for (let h = 0; h < H; h++) {
    for (let a = 0; a < N; a++) {
      let [sumRe, sumIm] = [small[(N + h) * all + a], 0];
      for (let g = 0; g < H; g++) {
        const among = small[(N + h) * all + N + g];
        sumRe -= among * sRe[g * N + a];
        sumIm -= among * sIm[g * N + a];
      }
      wRe[h * N + a] = scale[h] * sumRe;
      wIm[h * N + a] = scale[h] * sumIm;
    }
  }
  return (side.known = { omega, N, H, pRe, pIm, wRe, wIm, k, ratio, x });
}

/** C Z C^T onto the equations, Z = -rho omega^2 times the pressure on the patterns. */
function addOpenAir(re, im, width, side, omega) {
  const { N, pRe, pIm } = openAirAt(side, omega), n = side.pattern.shape[0], factor = -side.density * omega * omega;
  const hRe = new Float64Array(n * N), hIm = new Float64Array(n * N);
  for (let i = 0; i < n; i++) {
    for (let a = 0; a < N; a++) {
      const left = factor * side.pattern[i * N + a];
      for (let b = 0; b < N; b++) {
        hRe[i * N + b] += left * pRe[a * N + b];
        hIm[i * N + b] += left * pIm[a * N + b];
      }
    }
  }
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < n; j++) {
      for (let b = 0; b < N; b++) {
        re[i * width + j] += hRe[i * N + b] * side.pattern[j * N + b];
        im[i * width + j] += hIm[i * N + b] * side.pattern[j * N + b];
      }
    }
  }
}

/** Pressure in Pa on the axis at the distance of the level, at the rated voltage. */
function axisPressure(side, omega, xRe, xIm, n, push) {
  const { N, H, wRe, wIm, k, ratio, x } = openAirAt(side, omega), moved = [];
  for (let a = 0; a < N; a++) {
    let [re, im] = [0, 0];
    for (let i = 0; i < n; i++) {
      re += side.pattern[i * N + a] * xRe[i];
      im += side.pattern[i * N + a] * xIm[i];
    }
    moved.push(c.mul([re, im], push));
  }
  const to = k * side.distance, far = hankelRatios(side.order[H - 1] + 1, to);
  let spread = c.times([Math.cos(x - to), Math.sin(x - to)], x / to), total = [0, 0], n0 = 0;
  for (let h = 0; h < H; h++) {
    for (; n0 < side.order[h]; n0++) spread = c.mul(spread, c.div(far[n0 + 1], ratio[n0 + 1]));
    let wave = [0, 0];
    for (let a = 0; a < N; a++) wave = c.add(wave, c.mul([wRe[h * N + a], wIm[h * N + a]], moved[a]));
    total = c.add(total, c.mul(wave, spread));
  }
  return c.times(total, -side.density * omega * omega);
}
