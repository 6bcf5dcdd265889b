// The reduced model of one design: its motion at any frequency, in vacuum and with everything on.

class Model {
  constructor(data, around = null) {
    this.fromHz = data.from_hz;
    this.upToHz = data.up_to_hz;
    this.grid = data.grid;
    this.size = data.drive.length;
    this.terms = data.terms.map((term) => ({
      derivatives: term.derivatives, matrix: whole(term.matrix, this.size), factor: split(term.factor),
    }));
    Object.assign(this, { drive: data.drive, pickup: data.pickup, volume: data.volume, zoneArea: data.zone_area });
    this.surface = data.surface;
    this.shapes = data.motion;
    this.around = around && readAround(around);
  }

  /** Everything about one frequency: per newton in vacuum, or with the surroundings on. */
  solve(hz, loaded = false) {
    const n = this.size, gap = loaded ? this.around?.gap : null, all = n + (gap ? gap.count : 0);
    const re = new Float64Array(all * all), im = new Float64Array(all * all);
    const xRe = new Float64Array(all), xIm = new Float64Array(all), omega = 2 * Math.PI * hz;
    for (const term of this.terms) {
      let [wRe, wIm] = this.read(term.factor, hz);
      for (let d = 0; d < term.derivatives; d++) [wRe, wIm] = [-wIm * omega, wRe * omega];
      for (let i = 0; i < n; i++) {
        for (let j = 0, from = i * n, to = i * all; j < n; j++) {
          re[to + j] += wRe * term.matrix[from + j];
          im[to + j] += wIm * term.matrix[from + j];
        }
      }
    }
    const rear = loaded ? this.around?.rear : null;
    const spring = rear ? c.div(this.read(rear.push, hz), this.read(rear.give, hz)) : [0, 0];
    if (rear) addOuter(re, im, all, 0, rear.pattern, spring);
    const network = gap ? joinChannels(gap, this, hz) : null;
    if (gap) addGap(re, im, all, n, gap, network, omega);
    if (loaded) for (const side of this.around?.open ?? []) addOpenAir(re, im, all, side, omega);
    xRe.set(this.drive);
    solveComplex(re, im, xRe, xIm, all);
    return this.outcome(hz, xRe, xIm, { loaded, rear, spring, gap, network });
  }

  outcome(hz, xRe, xIm, { loaded, rear, spring, gap, network }) {
    const n = this.size, zones = this.zoneArea.length;
    const coil = product(this.pickup, 0, xRe, xIm, n), omega = 2 * Math.PI * hz;
    const zone = [], share = [];
    for (let z = 0; z < zones; z++) {
      zone.push(c.div(product(this.volume, z * n, xRe, xIm, n), coil));
      share.push(this.zoneArea[z] ? c.times(zone[z], 1 / this.zoneArea[z]) : null);
    }
    const total = zone.reduce(c.add, [0, 0]), force = c.div([1, 0], coil);
    const found = { hz, zone, share, total, y: { re: xRe, im: xIm }, coil };
    found.response = c.div(c.times(total, -(omega ** 2)), force);
    const motor = loaded ? this.around?.motor : null;
    if (motor) {
      const mechanical = c.div(force, [0, omega]);
      const emf = c.div([motor.force_factor ** 2, 0], mechanical);
      found.impedance = c.add(this.read(motor.blocked, hz), emf);
      const current = c.div([1, 0], c.add(found.impedance, [motor.source_resistance, 0]));
      const push = c.times(current, motor.force_factor * motor.voltage); // N at the rated voltage
      found.excursion = c.mul(push, coil);
      if (rear) found.rear = c.times(c.mul(c.mul(spring, c.mul(total, coil)), push), -1);
      const front = loaded ? this.around.open?.find((side) => side.distance) : null;
      if (front) found.axis = axisPressure(front, omega, xRe, xIm, n, push);
      if (gap) found.pressure = gapPressure(gap, network, omega, xRe, xIm, n, push);
    }
    return found;
  }

  /** Motion of the surface over that of the coil: radial and axial (P,), real and imaginary. */
  motion(found) {
    const points = this.surface.r.length, out = ["rRe", "rIm", "zRe", "zIm"].map(() => new Float64Array(points));
    for (let k = 0; k < this.size; k++) {
      const [re, im] = c.div([found.y.re[k], found.y.im[k]], found.coil);
      for (let side = 0; side < 2; side++) {
        const from = (2 * k + side) * points, outRe = out[2 * side], outIm = out[2 * side + 1];
        for (let p = 0; p < points; p++) {
          outRe[p] += re * this.shapes[from + p];
          outIm[p] += im * this.shapes[from + p];
        }
      }
    }
    const [rRe, rIm, zRe, zIm] = out;
    return { rRe, rIm, zRe, zIm };
  }

  /** Area swept in total, every patch with its absolute normal velocity, over the coil's. */
  sweptInTotal(motion) {
    const { area, normal } = this.surface;
    let total = 0;
    for (let p = 0; p < area.length; p++) {
      const [nr, nz] = [normal[2 * p], normal[2 * p + 1]];
      total += area[p] * Math.hypot(nr * motion.rRe[p] + nz * motion.zRe[p], nr * motion.rIm[p] + nz * motion.zIm[p]);
    }
    return total;
  }

  /** A smooth factor over the grid at one frequency, by a straight line over log f. */
  read({ re, im }, hz) {
    if (re.length === 1) return [re[0], im[0]];
    const place = (Math.log(hz / this.fromHz) / Math.log(this.upToHz / this.fromHz)) * (this.grid - 1);
    const k = clamp(Math.floor(place), 0, this.grid - 2), share = clamp(place - k, 0, 1);
    return [re[k] + share * (re[k + 1] - re[k]), im[k] + share * (im[k + 1] - im[k])];
  }
}

/** A symmetric matrix (n, n) from its upper triangle, row by row. */
function whole(upper, n, from = 0) {
  const found = new Float64Array(n * n);
  for (let i = 0, k = from; i < n; i++) for (let j = i; j < n; j++, k++) found[i * n + j] = found[j * n + i] = upper[k];
  return found;
}

function product(rows, from, xRe, xIm, n) {
  let re = 0, im = 0;
  for (let k = 0; k < n; k++) {
    re += rows[from + k] * xRe[k];
    im += rows[from + k] * xIm[k];
  }
  return [re, im];
}

function addOuter(re, im, width, at, pattern, [wRe, wIm]) {
  for (let i = 0; i < pattern.length; i++) {
    for (let j = 0; j < pattern.length; j++) {
      re[(at + i) * width + at + j] += wRe * pattern[i] * pattern[j];
      im[(at + i) * width + at + j] += wIm * pattern[i] * pattern[j];
    }
  }
}

function readAround(data) {
  const found = { curve: data.curve };
  if (data.rear) found.rear = { pattern: data.rear.pattern, push: split(data.rear.push), give: split(data.rear.give) };
  if (data.motor) found.motor = { ...data.motor, blocked: split(data.motor.blocked) };
  if (data.open) found.open = data.open;
  if (data.gap) {
    const gap = data.gap, count = gap.pattern.shape[1], slots = gap.slots.shape[1], triangle = (count * (count + 1)) / 2;
    const matrices = (all) => Array.from(gap.width, (_, g) => whole(all, count, g * triangle));
    const long = gap.channels.shape[2];
    const part = (j, k) => split(gap.channels.subarray(2 * long * (3 * j + k), 2 * long * (3 * j + k + 1)));
    found.gap = {
      ...gap, count, slots, at: gap.slots, conductance: matrices(gap.conductance), volume: matrices(gap.volume),
      channels: Array.from({ length: slots }, (_, j) => [0, 1, 2].map((k) => part(j, k))), exit: split(gap.exit),
    };
  }
  return found;
}

/** The slots with their channels, joined at the exit: admittance seen from the gap, and pressure handed to the exit. */
function joinChannels(gap, model, hz) {
  const lines = gap.channels.map((parts) => parts.map((part) => model.read(part, hz)));
  const ab = lines.map(([, t12]) => c.div([-1, 0], t12));
  let ends = c.div([1, 0], model.read(gap.exit, hz));
  for (const [t11, t12] of lines) ends = c.add(ends, c.div(t11, t12));
  const transfer = ab.map((one) => c.div(c.times(one, -1), ends));
  const admittance = ab.map((one, a) =>
    transfer.map((other, b) => (a === b ? c.add(c.mul(one, other), c.div(lines[a][2], lines[a][1])) : c.mul(one, other))));
  return { transfer, admittance };
}

/** How the pressure at slot j follows from unknown i: motions of the face above it first, then pressures of the gap. */
const atSlot = (gap, n, omega, i, j) => (i < n ? omega ** 2 * gap.mouths[i * gap.slots + j] : gap.at[(i - n) * gap.slots + j]);

/** The gap's rows and columns: C beside D, -A/(i omega) in the corner, and what flows into the slots. */
function addGap(re, im, width, n, gap, network, omega) {
  const { count, air } = gap;
  for (let i = 0; i < n; i++) {
    for (let a = 0; a < count; a++) {
      const coupling = gap.pattern[i * count + a];
      re[i * width + n + a] += coupling;
      re[(n + a) * width + i] += coupling;
    }
  }
  for (let g = 0; g < gap.width.length; g++) {
    const { density, compliance } = slitMedium(air, gap.width[g], omega);
    const rest = c.div([1, 0], c.times(density, omega ** 2)), push = c.times(compliance, -1);
    for (let a = 0; a < count; a++) {
      for (let b = 0; b < count; b++) {
        const at = (n + a) * width + n + b, K = gap.conductance[g][a * count + b], M = gap.volume[g][a * count + b];
        re[at] += rest[0] * K + push[0] * M;
        im[at] += rest[1] * K + push[1] * M;
      }
    }
  }
  for (let j = 0; j < gap.slots; j++) {
    for (let k = 0; k < gap.slots; k++) {
      const [wRe, wIm] = c.times(c.div(network.admittance[j][k], [0, omega]), -1);
      for (let a = 0; a < width; a++) {
        for (let b = 0, one = atSlot(gap, n, omega, a, j), at = a * width; b < width; b++, at++) {
          const both = one * atSlot(gap, n, omega, b, k);
          re[at] += wRe * both;
          im[at] += wIm * both;
        }
      }
    }
  }
}

/** Density and compliance of air in a slit, friction and heat at its walls within. */
function slitMedium(air, height, omega) {
  if (!air.viscosity) return { density: [air.density, 0], compliance: [1 / air.bulk_modulus, 0] };
  const x = (height / 2) * Math.sqrt((omega * air.density) / air.viscosity);
  const viscous = slitShare(x), thermal = slitShare(x * Math.sqrt(air.prandtl));
  return {
    density: c.div([air.density, 0], c.sub([1, 0], viscous)),
    compliance: c.times(c.add([1, 0], c.times(thermal, air.gamma - 1)), 1 / air.bulk_modulus),
  };
}

/** Pressures in Pa at the rated voltage: along the gap, at each slot as the exit gets it, and at the exit. */
function gapPressure(gap, network, omega, xRe, xIm, n, push) {
  const { count, slots } = gap, p = { re: xRe.subarray(n), im: xIm.subarray(n) };
  const each = [], along = [];
  for (let j = 0; j < slots; j++) {
    let at = [0, 0];
    for (let i = 0; i < n + count; i++) at = c.add(at, c.times([xRe[i], xIm[i]], atSlot(gap, n, omega, i, j)));
    each.push(c.mul(c.mul(network.transfer[j], at), push));
  }
  if (gap.shapes) {
    for (let s = 0; s < gap.place.length; s++) along.push(c.mul(product(gap.shapes, s * count, p.re, p.im, count), push));
  }
  return { exit: each.reduce(c.add, [0, 0]), each, along };
}

const REFERENCE_PA = 20e-6;
const levelOf = (pressure) => 20 * Math.log10(Math.max(c.size(pressure), 1e-12) / REFERENCE_PA);
