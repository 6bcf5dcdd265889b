// Profiles laid over each other, the difference of two of them shaded.

class Profiles {
  constructor(host, designs, baseline) {
    Object.assign(this, { host, designs, baseline });
    this.svg = draw("svg", { class: "chart", role: "img", "aria-label": `profiles laid over each other: ${designs.filter((one) => one.surface).map(sizeOf).join("; ")}` });
    host.append(this.svg);
    redraws.push(() => this.render());
    this.render();
  }

  render() {
    const drawn = this.designs.filter((one) => one.surface), all = drawn.map((one) => one.surface);
    const extent = (name) => [Math.min(...all.map((s) => Math.min(...s[name]))), Math.max(...all.map((s) => Math.max(...s[name])))];
    const [left, right] = extent("r"), [low, high] = extent("z"), width = Math.max(this.host.clientWidth, 200);
    const scale = Math.min((width - 30) / (right - left), 240 / (high - low)), height = (high - low) * scale + 40;
    const x = (r) => width / 2 + (r - (left + right) / 2) * scale, y = (z) => 28 + (high - z) * scale;
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.svg.replaceChildren(draw("text", { class: "title", x: 2, y: 12 }, "profiles, one scale"));
    const run = ({ r, z, run: which }, number) => {
      const found = [];
      for (let p = 0; p < r.length; p++) if (which[p] === number) found.push(`${x(r[p]).toFixed(1)} ${y(z[p]).toFixed(1)}`);
      return found;
    };
    const base = this.designs[this.baseline];
    if (drawn.length === 2 && base.surface) {
      const [one, other] = drawn.map((design) => run(design.surface, 0));
      this.svg.append(draw("path", { class: "apart", d: `M${one.join("L")}L${other.reverse().join("L")}Z` }));
    }
    this.designs.forEach((design, d) => {
      if (!design.surface) return;
      for (const number of [0, 1]) {
        const points = run(design.surface, number);
        if (points.length > 1) this.svg.append(draw("path", { class: `line ${lookOf(d)}`, d: `M${points.join("L")}` }, draw("title", {}, design.name)));
      }
    });
  }
}

/** The name of a design, and how far it reaches. */
function sizeOf({ name, surface }) {
  const [wide, high] = [2 * Math.max(...surface.r), Math.max(...surface.z) - Math.min(...surface.z)].map((metres) => digits(1e3 * metres));
  return `${name} ${wide} mm wide, ${high} mm high`;
}

/** Modes followed through the designs: a line for each, a dot where a design has it; lines that end are lost. */
class Slopes {
  constructor(host, designs, tracks) {
    Object.assign(this, { host, designs, tracks });
    this.svg = draw("svg", { class: "chart", role: "group", "aria-label": "modes followed from design to design" });
    this.words = make("p", { class: "hint doing", "aria-live": "polite" }, "Point at a line for its words.");
    this.names = make("p", { class: "hint" });
    host.append(this.svg, this.names, this.words);
    redraws.push(() => this.render());
  }

  take(tracks) {
    this.tracks = tracks;
    this.render();
  }

  render() {
    const width = Math.max(this.host.clientWidth, 200), height = 380, top = 26, bottom = height - 12;
    const every = this.tracks.flatMap((track) => track.hz).filter((hz) => hz !== null);
    const axis = new Axis(roundBelow(Math.min(...every)), Math.max(...every) * 1.08);
    const y = (hz) => bottom - axis.share(hz) * (bottom - top), count = this.designs.length;
    const x = (d) => LEFT + 40 + (d / Math.max(count - 1, 1)) * (width - LEFT - 100);
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.svg.replaceChildren();
    const ticks = axis.ticks();
    for (const hz of ticks.length > 2 ? ticks : logTicks(axis.low, axis.high)) {
      this.svg.append(draw("line", { class: "grid", x1: LEFT, x2: width - RIGHT, y1: y(hz), y2: y(hz) }),
        draw("text", { class: "tick", x: LEFT - 5, y: y(hz) + 3.5, "text-anchor": "end" }, showTick(hz)));
    }
    const room = (0.9 * (width - LEFT - 60)) / count, fits = this.designs.every((design) => textWidth(design.name, 10.5) < room);
    this.names.textContent = fits ? "" : this.designs.map((design, d) => `${d + 1} ${design.name}`).join("; ");
    this.designs.forEach((design, d) => {
      const words = fits ? design.name : `${d + 1}`, half = textWidth(words, 10.5) / 2;
      this.svg.append(draw("line", { class: "frame", x1: x(d), x2: x(d), y1: top, y2: bottom }),
        draw("text", { class: "tick", x: clamp(x(d), half + 24, width - half), y: 14, "text-anchor": "middle" }, words, draw("title", {}, design.name)));
    });
    this.svg.append(draw("text", { class: "title", x: 2, y: 14 }, "Hz"));
    for (const track of this.tracks) this.track(track, x, y);
  }

  track({ label, hz }, x, y) {
    let path = "", pen = "M";
    const dots = [];
    hz.forEach((one, d) => {
      if (one === null) { pen = "M"; return; }
      path += `${pen}${x(d)} ${y(one).toFixed(1)}`;
      pen = "L";
      dots.push(draw("circle", { class: "slope-dot", cx: x(d), cy: y(one), r: 2.6 }));
    });
    const words = `${label}: ${hz.map((one) => (one === null ? "–" : showHz(one, 4))).join(", ")}`;
    const line = draw("path", { class: "slope", d: path, tabindex: "0", role: "img", "aria-label": words }, draw("title", {}, words));
    const tell = () => (this.words.textContent = words);
    line.addEventListener("pointerenter", tell);
    line.addEventListener("focus", tell);
    this.svg.append(line, ...dots);
  }
}
