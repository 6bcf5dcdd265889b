// The diaphragm in the round: a shape turned about its axis, drawn from the back to the front on a canvas.

const AROUND = 60, MOST_ALONG = 36;
const SHADES = 64; // of 16 the borders stood out as stairs

class Revolved {
  constructor(host, zones) {
    Object.assign(this, { host, zones, turn: 0.5, tilt: 0.95, shape: null, phase: 0 });
    this.canvas = make("canvas", { class: "solid", tabindex: "0", role: "img", "aria-label": "in the round; drag or arrow keys turn it" });
    host.append(this.canvas);
    let last = null;
    this.canvas.addEventListener("pointerdown", (event) => {
      last = [event.clientX, event.clientY];
      this.canvas.setPointerCapture(event.pointerId);
    });
    this.canvas.addEventListener("pointermove", (event) => {
      if (!last || !event.buttons) return;
      this.rotate((event.clientX - last[0]) / 130, (event.clientY - last[1]) / 170);
      last = [event.clientX, event.clientY];
    });
    this.canvas.addEventListener("keydown", (event) => {
      const way = { ArrowLeft: [-0.12, 0], ArrowRight: [0.12, 0], ArrowUp: [0, -0.08], ArrowDown: [0, 0.08] }[event.key];
      if (!way) return;
      this.rotate(...way);
      event.preventDefault();
      event.stopPropagation();
    });
    redraws.push(() => { this.paint = null; this.render(); });
  }

  rotate(turn, tilt) {
    this.turn += turn;
    this.tilt = clamp(this.tilt + tilt, 0.05, 1.55);
    this.render();
  }

  /** Take a shape: r, z, zone and run of its points, and motion u_r, u_z (and u_t) with a largest of 1, of order m. */
  take(shape) {
    const keep = thinned(shape, MOST_ALONG), quads = [];
    for (let a = 0; a + 1 < keep.length; a++) if (shape.run[keep[a]] === shape.run[keep[a + 1]]) quads.push(a);
    this.shape = { ...shape, keep, quads };
    const size = keep.length * AROUND;
    this.place = [new Float32Array(size), new Float32Array(size), new Float32Array(size)];
    this.seen = [new Float32Array(size), new Float32Array(size), new Float32Array(size)];
    this.count = quads.length * AROUND;
    this.depth = new Float32Array(this.count);
    this.order = new Uint16Array(this.count);
    this.render();
  }

  /** The points in space at the phase, x and y across, z along the axis; in units of the largest radius. */
  bend() {
    const { r, z, ur, uz, ut, m, keep } = this.shape, [X, Y, Z] = this.place;
    const radius = Math.max(...r), middle = (Math.max(...z) + Math.min(...z)) / 2;
    const now = 0.09 * (this.exaggeration ?? 1) * Math.cos(this.phase);
    for (let j = 0; j < AROUND; j++) {
      const theta = (2 * Math.PI * j) / AROUND, cos = Math.cos(theta), sin = Math.sin(theta);
      const even = now * Math.cos(m * theta), odd = now * Math.sin(m * theta);
      for (let a = 0; a < keep.length; a++) {
        const p = keep[a], at = a * AROUND + j, out = r[p] / radius + even * ur[p], side = ut ? odd * ut[p] : 0;
        X[at] = out * cos - side * sin;
        Y[at] = out * sin + side * cos;
        Z[at] = (z[p] - middle) / radius + even * uz[p];
      }
    }
  }

  render() {
    const { canvas, host } = this;
    if (!this.shape || !host.clientWidth) return;
    const width = host.clientWidth, height = Math.min(Math.max(width * 0.62, 190), 330), dense = window.devicePixelRatio || 1;
    if (canvas.width !== Math.round(width * dense) || canvas.height !== Math.round(height * dense)) {
      [canvas.width, canvas.height] = [Math.round(width * dense), Math.round(height * dense)];
      canvas.style.height = `${height}px`;
    }
    this.bend();
    const [X, Y, Z] = this.place, [sx, sy, sd] = this.seen, size = Math.min(width * 0.46, height * 0.56) * dense;
    const [ct, st] = [Math.cos(this.turn), Math.sin(this.turn)], [cp, sp] = [Math.cos(this.tilt), Math.sin(this.tilt)];
    Object.assign(this, { cosTurn: ct, sinTurn: st, cosTilt: cp, sinTilt: sp });
    for (let k = 0; k < X.length; k++) {
      const x = ct * X[k] - st * Y[k], y = st * X[k] + ct * Y[k];
      sx[k] = canvas.width / 2 + size * x;
      sy[k] = canvas.height / 2 - size * (Z[k] * sp + y * cp);
      sd[k] = y * sp - Z[k] * cp;
    }
    this.fill();
  }

  fill() {
    const context = this.canvas.getContext("2d"), { quads, keep, zone } = this.shape, [sx, sy, sd] = this.seen;
    this.paint ??= this.zones.map((zone) => shades(zoneColour(zone)));
    context.clearRect(0, 0, this.canvas.width, this.canvas.height);
    for (let q = 0; q < this.count; q++) {
      const at = quads[(q / AROUND) | 0] * AROUND, j = q % AROUND, next = (j + 1) % AROUND;
      this.depth[q] = sd[at + j] + sd[at + AROUND + next];
      this.order[q] = q;
    }
    this.order.sort((one, other) => this.depth[other] - this.depth[one]);
    for (const q of this.order) {
      const a = quads[(q / AROUND) | 0], at = a * AROUND, j = q % AROUND, next = (j + 1) % AROUND;
      const [i1, i2, i3, i4] = [at + j, at + next, at + AROUND + next, at + AROUND + j];
      const colour = this.paint[zone[keep[a]]][this.light(i1, i3, i2, i4)];
      context.fillStyle = context.strokeStyle = colour;
      context.beginPath();
      context.moveTo(sx[i1], sy[i1]);
      context.lineTo(sx[i2], sy[i2]);
      context.lineTo(sx[i3], sy[i3]);
      context.lineTo(sx[i4], sy[i4]);
      context.closePath();
      context.fill();
      context.stroke(); // closes the hair between neighbours
    }
  }

  /** Which shade a patch has: its normal turned to the eye, the light from the upper left. */
  light(i1, i3, i2, i4) {
    const [X, Y, Z] = this.place;
    const [ax, ay, az] = [X[i3] - X[i1], Y[i3] - Y[i1], Z[i3] - Z[i1]], [bx, by, bz] = [X[i4] - X[i2], Y[i4] - Y[i2], Z[i4] - Z[i2]];
    const nx = ay * bz - az * by, ny = az * bx - ax * bz, nz = ax * by - ay * bx, size = Math.hypot(nx, ny, nz) || 1;
    const across = this.cosTurn * nx - this.sinTurn * ny, away = this.sinTurn * nx + this.cosTurn * ny;
    const up = this.cosTilt * away + this.sinTilt * nz, near = this.cosTilt * nz - this.sinTilt * away;
    const lit = ((near < 0 ? -1 : 1) * (0.62 * near + 0.55 * up - 0.45 * across)) / size;
    return clamp(Math.round((SHADES - 1) * (0.2 + 0.8 * lit)), 0, SHADES - 1);
  }
}

/** The shades of a colour, from its shadow to its light. */
function shades(colour) {
  const [r, g, b] = [1, 3, 5].map((at) => parseInt(colour.slice(at, at + 2), 16));
  return Array.from({ length: SHADES }, (_, k) => {
    const light = (1.5 * k) / (SHADES - 1), dark = 0.5 + 0.5 * Math.min(1, light), pale = 0.72 * Math.max(0, light - 1);
    return `rgb(${[r, g, b].map((one) => Math.round(one * dark + (255 - one * dark) * pale)).join(",")})`;
  });
}

/** Points to draw: the ends of every zone and curve, and others at even steps, some `most` of them. */
function thinned({ zone, run, r }, most) {
  const step = Math.max(1, Math.ceil(r.length / most)), found = [];
  for (let p = 0; p < r.length; p++) {
    const begins = p === 0 || zone[p] !== zone[p - 1] || run[p] !== run[p - 1];
    const ends = p === r.length - 1 || run[p] !== run[p + 1];
    if (begins || ends || p % step === 0) found.push(p);
  }
  return found;
}

/** The colour of a zone in the present theme, #rrggbb. */
function zoneColour(zone) {
  return colourOf(zone.look) || "#888888";
}
