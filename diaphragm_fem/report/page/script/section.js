// The section that moves: the wall at rest, and bent by the motion of one frequency at one phase.

class Section {
  constructor(host, { surface, zones, edges, glue = [] }, label = "section, moving") {
    Object.assign(this, { host, surface, zones, edges, label });
    this.svg = draw("svg", { class: "section", role: "img", "aria-label": label });
    host.append(this.svg);
    this.runs = cutRuns(surface);
    this.beads = glue.map((points) => ({ points, at: nearestTo(points[0], surface) }));
    this.mirrored = Math.min(...surface.r) < 0.25 * Math.max(...surface.r);
    redraws.push(() => this.render());
    this.render();
  }

  render() {
    const { r, z } = this.surface, width = Math.max(this.host.clientWidth, 200);
    const [left, right] = [this.mirrored ? -Math.max(...r) : Math.min(...r), Math.max(...r)];
    const [low, high] = [Math.min(...z), Math.max(...z)];
    const most = this.host.dataset.height ? Number(this.host.dataset.height) : 400, pad = 30;
    const scale = Math.min((width - 2 * pad) / (right - left), (most - 2 * pad) / (high - low));
    const height = Math.max((high - low) * scale + 2 * pad, 150);
    this.scale = scale;
    this.span = Math.min((right - left) * scale, width);
    const middle = (left + right) / 2, centre = (low + high) / 2;
    this.x = (radius) => width / 2 + (radius - middle) * scale;
    this.y = (level) => height / 2 - (level - centre) * scale;
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.svg.replaceChildren();
    if (this.mirrored) {
      this.svg.append(draw("line", { class: "axis-line", x1: this.x(0), x2: this.x(0), y1: 6, y2: height - 6 }));
    }
    this.rest = this.paths("rest");
    this.moving = this.paths("wall");
    this.glue = (this.mirrored ? [1, -1] : [1]).flatMap((side) => this.beads.map((bead) => {
      const path = draw("path", { class: "glue" });
      path.append(draw("title", {}, "glue"));
      this.svg.append(path);
      return { ...bead, side, path };
    }));
    this.stick(null, 0, 0);
    this.supports();
    this.bar(width, height);
    if (this.shown) this.show(...this.shown);
    else this.put(this.rest, null, 0, 0);
  }

  /** What moves, for who hears it. */
  tell(words) {
    this.svg.setAttribute("aria-label", `${this.label}. ${words}`);
  }

  paths(kind) {
    const sides = this.mirrored ? [1, -1] : [1];
    return sides.flatMap((side) => this.runs.map((run) => {
      const zone = this.zones[run.zone];
      const path = draw("path", { class: `${kind} ${kind === "wall" ? roleClass(zone) : ""} ${zone.name === "winding" ? "winding" : ""}` });
      if (kind === "wall") path.append(draw("title", {}, zone.name));
      this.svg.append(path);
      return { ...run, side, path };
    }));
  }

  supports() {
    const { r, z, run } = this.surface, last = run.lastIndexOf(0);
    for (const [held, p, away] of [[this.edges.inner, 0, -1], [this.edges.outer, last, 1]]) {
      if (!held) continue;
      for (const side of this.mirrored ? [1, -1] : [1]) {
        const x = this.x(side * r[p]), y = this.y(z[p]), out = away * side * 9;
        this.svg.append(draw("path", { class: "support", d: `M${x} ${y - 9}V${y + 9}M${x} ${y - 6}l${out} 6M${x} ${y}l${out} 6M${x} ${y + 6}l${out} 6` }));
      }
    }
  }

  /** How long a millimetre, or ten, is drawn. */
  bar(width, height) {
    const mm = [1, 2, 5, 10, 20, 50].find((one) => one * 1e-3 * this.scale > 42) ?? 50, long = mm * 1e-3 * this.scale;
    this.svg.append(draw("path", { class: "support", d: `M8 ${height - 8}h${long}m0 -3v6M8 ${height - 11}v6` }),
      draw("text", { class: "tick", x: 14 + long, y: height - 4.5 }, `${mm} mm`));
    if (!this.mirrored) {
      const far = Math.min(...this.surface.r) * 1e3;
      this.svg.append(draw("text", { class: "tick", x: 8, y: 11 }, `← axis ${digits(far)} mm from the inner edge`));
    }
  }

  put(paths, motion, re, im) {
    const { r, z } = this.surface;
    for (const { from, to, side, path } of paths) {
      let text = "";
      for (let p = from; p < to; p++) {
        const moved = motion
          ? [r[p] + motion.rRe[p] * re - motion.rIm[p] * im, z[p] + motion.zRe[p] * re - motion.zIm[p] * im] : [r[p], z[p]];
        text += `${p === from ? "M" : "L"}${this.x(side * moved[0]).toFixed(1)} ${this.y(moved[1]).toFixed(1)}`;
      }
      path.setAttribute("d", text);
    }
  }

  /** The glue, each bead moved as the wall it sticks to. */
  stick(motion, re, im) {
    for (const { points, at, side, path } of this.glue) {
      const moved = motion ? [motion.rRe[at] * re - motion.rIm[at] * im, motion.zRe[at] * re - motion.zIm[at] * im] : [0, 0];
      const text = points.map(([r, z]) => `${this.x(side * (r + moved[0])).toFixed(1)} ${this.y(z + moved[1]).toFixed(1)}`);
      path.setAttribute("d", `M${text.join("L")}Z`);
    }
  }

  /** Draw a motion (over the coil's) at a phase, its largest point moving `exaggeration` times a twentieth of the width. */
  show(motion, phase, exaggeration) {
    this.shown = [motion, phase, exaggeration];
    const amplitude = (exaggeration * 0.055 * this.span) / this.scale / largestOf(motion);
    this.put(this.rest, null, 0, 0);
    this.put(this.moving, motion, amplitude * Math.cos(phase), amplitude * Math.sin(phase));
    this.stick(motion, amplitude * Math.cos(phase), amplitude * Math.sin(phase));
  }
}

/** The largest motion of any point, over one period. */
function largestOf(motion) {
  let most = 0;
  for (let p = 0; p < motion.rRe.length; p++) {
    most = Math.max(most, motion.rRe[p] ** 2 + motion.rIm[p] ** 2 + motion.zRe[p] ** 2 + motion.zIm[p] ** 2);
  }
  return Math.sqrt(most) || 1;
}

/** The surface's point nearest to a place. */
function nearestTo([r, z], surface) {
  let best = 0, least = Infinity;
  for (let p = 0; p < surface.r.length; p++) {
    const away = (surface.r[p] - r) ** 2 + (surface.z[p] - z) ** 2;
    if (away < least) [best, least] = [p, away];
  }
  return best;
}

/** Stretches of one zone along one curve, each with the first point of the next, so that lines meet. */
function cutRuns({ zone, run, r }) {
  const found = [];
  for (let from = 0; from < r.length; ) {
    let to = from + 1;
    while (to < r.length && zone[to] === zone[from] && run[to] === run[from]) to++;
    const joined = to < r.length && run[to] === run[from] ? to + 1 : to;
    found.push({ from, to: joined, zone: zone[from] });
    from = to;
  }
  return found;
}
