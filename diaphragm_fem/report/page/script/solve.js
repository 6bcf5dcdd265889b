// The small equations: a complex system of a few dozen unknowns, solved at the frequency asked for.

/** Solve M x = b in place, M (n, n) by rows, b (n, R); partial pivoting after both sides were scaled by the diagonal. */
function solveComplex(re, im, bRe, bIm, n, columns = 1) {
  const scale = new Float64Array(n);
  for (let i = 0; i < n; i++) scale[i] = 1 / Math.sqrt(Math.hypot(re[i * n + i], im[i * n + i]) || 1);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < n; j++) {
      const by = scale[i] * scale[j];
      re[i * n + j] *= by;
      im[i * n + j] *= by;
    }
    for (let c = 0; c < columns; c++) {
      bRe[i * columns + c] *= scale[i];
      bIm[i * columns + c] *= scale[i];
    }
  }
  for (let k = 0; k < n; k++) {
    let pivot = k, most = 0;
    for (let i = k; i < n; i++) {
      const size = re[i * n + k] ** 2 + im[i * n + k] ** 2;
      if (size > most) [pivot, most] = [i, size];
    }
    if (pivot !== k) {
      swapRows(re, im, pivot, k, n, k);
      swapRows(bRe, bIm, pivot, k, columns, 0);
    }
    const top = k * n, dRe = re[top + k] / most, dIm = -im[top + k] / most;
    for (let i = k + 1; i < n; i++) {
      const row = i * n, aRe = re[row + k], aIm = im[row + k];
      if (aRe === 0 && aIm === 0) continue;
      const fRe = aRe * dRe - aIm * dIm, fIm = aRe * dIm + aIm * dRe;
      for (let j = k + 1; j < n; j++) {
        const uRe = re[top + j], uIm = im[top + j];
        re[row + j] -= fRe * uRe - fIm * uIm;
        im[row + j] -= fRe * uIm + fIm * uRe;
      }
      for (let c = 0; c < columns; c++) {
        const uRe = bRe[k * columns + c], uIm = bIm[k * columns + c];
        bRe[i * columns + c] -= fRe * uRe - fIm * uIm;
        bIm[i * columns + c] -= fRe * uIm + fIm * uRe;
      }
    }
  }
  for (let c = 0; c < columns; c++) {
    for (let i = n - 1; i >= 0; i--) {
      let sRe = bRe[i * columns + c], sIm = bIm[i * columns + c];
      for (let j = i + 1; j < n; j++) {
        const xRe = bRe[j * columns + c], xIm = bIm[j * columns + c], at = i * n + j;
        sRe -= re[at] * xRe - im[at] * xIm;
        sIm -= re[at] * xIm + im[at] * xRe;
      }
      const at = i * n + i, size = re[at] ** 2 + im[at] ** 2;
      bRe[i * columns + c] = (sRe * re[at] + sIm * im[at]) / size;
      bIm[i * columns + c] = (sIm * re[at] - sRe * im[at]) / size;
    }
  }
  for (let i = 0; i < n; i++) {
    for (let c = 0; c < columns; c++) {
      bRe[i * columns + c] *= scale[i];
      bIm[i * columns + c] *= scale[i];
    }
  }
}

function swapRows(re, im, one, other, width, from) {
  for (const part of [re, im]) {
    for (let j = from; j < width; j++) {
      const held = part[one * width + j];
      part[one * width + j] = part[other * width + j];
      part[other * width + j] = held;
    }
  }
}

// ---- complex numbers as pairs

const c = {
  add: (a, b) => [a[0] + b[0], a[1] + b[1]],
  sub: (a, b) => [a[0] - b[0], a[1] - b[1]],
  mul: (a, b) => [a[0] * b[0] - a[1] * b[1], a[0] * b[1] + a[1] * b[0]],
  div: (a, b) => {
    const size = b[0] * b[0] + b[1] * b[1];
    return [(a[0] * b[0] + a[1] * b[1]) / size, (a[1] * b[0] - a[0] * b[1]) / size];
  },
  times: (a, x) => [a[0] * x, a[1] * x],
  size: (a) => Math.hypot(a[0], a[1]),
  angle: (a) => Math.atan2(a[1], a[0]),
};

/** tanh(z)/z of z = x sqrt(i), x > 0: how friction or heat at the walls fills a slit. */
function slitShare(x) {
  const z = [x * Math.SQRT1_2, x * Math.SQRT1_2], fall = Math.exp(-2 * z[0]);
  const e = [fall * Math.cos(2 * z[1]), -fall * Math.sin(2 * z[1])];
  return c.div(c.div([1 - e[0], -e[1]], [1 + e[0], e[1]]), z);
}
