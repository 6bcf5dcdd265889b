// Parallel axes: a line for every case, thousands of them on a canvas; bands on the axes keep those between.

const BINS = 24, DRAGGED = 2500; // shades of the figure that colours the lines

class Parallel {
  constructor(host, axes, count, changed) {
    Object.assign(this, { host, axes, count, changed, colour: axes.length - 1, chosen: -1 });
    this.keep = new Uint8Array(count).fill(1);
    this.kept = count;
    this.bands = axes.map(() => null);
    this.places = axes.map((axis) => placesOf(axis));
    this.canvas = make("canvas", { class: "lines", role: "img", "aria-label": "every case as a line over parallel axes" });
    this.over = draw("svg", { class: "over", role: "group", "aria-label": "axes; a band on one keeps the cases between" });
    host.append(this.canvas, this.over);
    host.classList.add("parallel");
    redraws.push(() => this.render());
    this.render();
  }

  render() {
    const width = Math.max(this.host.clientWidth, 200), dense = window.devicePixelRatio || 1;
    this.step = Math.max((width - 70) / Math.max(this.axes.length - 1, 1), onPaper() ? 36 : 62); // narrow screens scroll
    this.width = this.step * (this.axes.length - 1) + 70;
    const widest = Math.max(...this.axes.flatMap((axis) => words(titleOf(axis), this.step - 6).map((line) => textWidth(line, 11.5))));
    this.staggered = widest > this.step - 4; // titles stand in two rows by turns where they would meet in one
    this.room = (this.staggered ? 2 : 1) * this.step - 6;
    const top = this.staggered ? 96 : 58;
    Object.assign(this, { height: top + 272, top, bottom: top + 248 });
    this.host.style.height = `${this.height + 6}px`;
    [this.canvas.width, this.canvas.height] = [Math.round(this.width * dense), Math.round(this.height * dense)];
    for (const layer of [this.canvas, this.over]) {
      layer.style.width = `${this.width}px`;
      layer.style.height = `${this.height}px`;
    }
    this.over.setAttribute("viewBox", `0 0 ${this.width} ${this.height}`);
    this.lines();
    this.drawAxes();
  }

  x(a) {
    return 35 + a * this.step;
  }

  y(share) {
    return this.bottom - share * (this.bottom - this.top);
  }

  /** All lines: those kept in colours from low to high of one figure, the others behind them as a haze. */
  lines(most = Infinity) {
    const context = this.canvas.getContext("2d"), dense = window.devicePixelRatio || 1;
    context.setTransform(dense, 0, 0, dense, 0, 0);
    context.clearRect(0, 0, this.width, this.height);
    context.lineJoin = "bevel";
    const xs = this.axes.map((_, a) => this.x(a)), ys = this.places.map((place) => place.map((share) => this.y(share)));
    const path = (cases) => {
      context.beginPath();
      for (const k of cases) {
        let pen = false;
        for (let a = 0; a < xs.length; a++) {
          const y = ys[a][k];
          if (y !== y) { pen = false; continue; }
          if (pen) context.lineTo(xs[a], y);
          else context.moveTo(xs[a], y);
          pen = true;
        }
      }
      context.stroke();
    };
    const every = Math.max(1, Math.ceil(this.kept / most)); // while a band is dragged some stand for all
    const dropped = [], bins = Array.from({ length: BINS }, () => []), shade = this.places[this.colour];
    for (let k = 0; k < this.count; k++) {
      if (!this.keep[k]) dropped.push(k);
      else if (k % every === 0) bins[clamp(Math.floor((shade[k] || 0) * BINS), 0, BINS - 1)].push(k);
    }
    context.lineWidth = 1;
    context.strokeStyle = colourOf("hair");
    const haze = Math.ceil(dropped.length / 1500); // a haze is as thick from some of them
    path(haze > 1 ? dropped.filter((_, k) => k % haze === 0) : dropped);
    context.globalAlpha = clamp((900 * every) / Math.max(this.kept, 1), 0.09, 0.9);
    bins.forEach((cases, bin) => {
      context.strokeStyle = shadeOf(bin / (BINS - 1));
      for (let from = 0; from < cases.length; from += 400) path(cases.slice(from, from + 400));
    });
    context.globalAlpha = 1;
    context.strokeStyle = colourOf("ink");
    this.baseLine(context, xs);
    if (this.chosen >= 0) {
      context.lineWidth = 2.5;
      path([this.chosen]);
    }
  }

  /** The base design as a dotted line, where it has what an axis shows. */
  baseLine(context, xs) {
    context.lineWidth = 1.6;
    context.setLineDash([2, 3]);
    context.beginPath();
    let pen = false;
    this.axes.forEach(({ basePlace }, a) => {
      if (Number.isFinite(basePlace)) context[pen ? "lineTo" : "moveTo"](xs[a], this.y(clamp(basePlace, -0.03, 1.03)));
      pen = Number.isFinite(basePlace);
    });
    context.stroke();
    context.setLineDash([]);
  }

  drawAxes() {
    this.over.replaceChildren();
    this.handles = this.axes.map((axis, a) => {
      const x = this.x(a), band = this.bands[a], { low, high } = axis;
      const group = draw("g", { class: "axis-of", tabindex: "0", role: "slider", "aria-label": `${axis.words}: keep a band`,
        "aria-valuetext": band ? `${this.textAt(a, band[0])} to ${this.textAt(a, band[1])}` : "all" });
      group.append(draw("line", { class: axis.kind === "input" ? "one-axis" : "one-axis figure", x1: x, x2: x, y1: this.top, y2: this.bottom }),
        draw("text", { class: "tick", y: this.top - 8, ...this.aside(a) }, this.textAt(a, 1)),
        draw("text", { class: "tick", y: this.bottom + 15, ...this.aside(a) }, this.textAt(a, 0)));
      const lift = this.staggered && a % 2 ? 38 : 0;
      if (lift) group.append(draw("line", { class: "grid", x1: x, x2: x, y1: this.top - 20 - lift, y2: this.top - 20 }));
      words(titleOf(axis), this.roomOf(a)).forEach((line, k, all) =>
        group.append(draw("text", { class: "title", y: this.top - 24 - lift - 12 * (all.length - 1 - k), ...this.aside(a) }, line)));
      if (band) group.append(draw("rect", { class: "kept-band", x: x - 7, width: 14, y: this.y(band[1]), height: Math.max(this.y(band[0]) - this.y(band[1]), 2) }));
      group.append(draw("rect", { class: "grip", x: x - Math.min(this.step / 2, 24), width: Math.min(this.step, 48), y: this.top - 6, height: this.bottom - this.top + 12 }));
      this.listen(group, a);
      this.over.append(group);
      return group;
    });
  }

  /** How wide a title may be: one at an end begins at the picture's edge, and would meet its neighbour sooner. */
  roomOf(a) {
    return a === 0 || a === this.axes.length - 1 ? Math.min(this.room, 32 + this.room / 2) : this.room;
  }

  /** Where words over an axis stand: those at the ends stay within the picture. */
  aside(a) {
    const last = this.axes.length - 1;
    return a === 0 ? { x: 0, "text-anchor": "start" } : a === last ? { x: this.width, "text-anchor": "end" } : { x: this.x(a), "text-anchor": "middle" };
  }

  /** The value at a share of an axis. */
  textAt(a, share) {
    const axis = this.axes[a], value = valueAt(axis, share);
    if (axis.names.length) return axis.names[clamp(Math.round(value), 0, axis.names.length - 1)];
    return digits(value);
  }

  listen(group, a) {
    let from = null;
    const at = (event) => {
      const box = this.over.getBoundingClientRect();
      return clamp((this.bottom - (event.clientY - box.top)) / (this.bottom - this.top), 0, 1);
    };
    group.addEventListener("pointerdown", (event) => {
      from = at(event);
      group.setPointerCapture(event.pointerId);
    });
    group.addEventListener("pointermove", (event) => {
      if (from === null || Math.abs(at(event) - from) < 0.01) return;
      this.mark(a, [Math.min(from, at(event)), Math.max(from, at(event))]);
    });
    group.addEventListener("pointerup", (event) => {
      const band = Math.abs(at(event) - from) < 0.01 ? null : [Math.min(from, at(event)), Math.max(from, at(event))];
      from = null;
      this.brush(a, band);
    });
    group.addEventListener("keydown", (event) => {
      const way = { ArrowUp: 0.05, ArrowDown: -0.05 }[event.key];
      if (event.key === "Escape" || event.key === "Delete") this.brush(a, null);
      else if (way) {
        const [low, high] = this.bands[a] ?? (way > 0 ? [0, 1] : [0, 1]);
        const next = event.shiftKey ? [low, clamp(high + way, low + 0.02, 1)] : this.bands[a] ? [clamp(low + way, 0, 0.98), clamp(high + way, 0.02, 1)] : [0.5, 1];
        this.brush(a, next);
      } else return;
      event.preventDefault();
      event.stopPropagation();
      this.handles[a].focus();
    });
  }

  /** While a band is dragged only its rectangle follows, once a frame the lines too. */
  mark(a, band) {
    this.bands[a] = band;
    if (this.waiting) return;
    this.waiting = requestAnimationFrame(() => {
      this.waiting = null;
      const rect = find(".kept-band", this.handles[a]) ?? this.handles[a].insertBefore(draw("rect", { class: "kept-band", x: this.x(a) - 7, width: 14 }), this.handles[a].lastChild);
      rect.setAttribute("y", this.y(this.bands[a]?.[1] ?? 1));
      rect.setAttribute("height", this.y(this.bands[a]?.[0] ?? 0) - this.y(this.bands[a]?.[1] ?? 1));
      this.sift(DRAGGED);
    });
  }

  brush(a, band) {
    if (this.waiting) cancelAnimationFrame(this.waiting);
    this.waiting = null;
    this.bands[a] = band;
    this.sift();
    this.drawAxes();
  }

  clear() {
    this.bands = this.axes.map(() => null);
    this.sift();
    this.drawAxes();
  }

  sift(most = Infinity) {
    const bands = this.bands.map((band, a) => [band, this.places[a]]).filter(([band]) => band);
    this.keep.fill(1);
    for (const [[low, high], place] of bands) {
      for (let k = 0; k < this.count; k++) if (!(place[k] >= low - 1e-9 && place[k] <= high + 1e-9)) this.keep[k] = 0;
    }
    this.kept = this.keep.reduce((sum, one) => sum + one, 0);
    this.lines(most);
    clearTimeout(this.later); // table and trade-off follow when the finger rests
    this.later = setTimeout(this.changed, 40);
  }
}

/** Where each case stands on an axis, 0 at its foot to 1; nan where it has no value. Also sets the axis' ends. */
function placesOf(axis) {
  let [low, high] = [Infinity, -Infinity];
  for (const value of axis.values) if (Number.isFinite(value)) [low, high] = [Math.min(low, value), Math.max(high, value)];
  axis.log = axis.log && low > 0;
  if (low === high) [low, high] = [low - Math.abs(low) * 0.1 - 1e-9, high + Math.abs(high) * 0.1 + 1e-9];
  Object.assign(axis, { low, high });
  axis.basePlace = axis.base === null ? NaN : placeOn(axis, axis.base); // of the base design; beyond 0 to 1 it is off the axis
  return Float32Array.from(axis.values, (value) => placeOn(axis, value));
}

const placeOn = ({ low, high, log }, value) => (log ? Math.log(value / low) / Math.log(high / low) : (value - low) / (high - low));

const titleOf = (axis) => (axis.unit ? `${axis.words}, ${axis.unit}` : axis.words);

const valueAt = ({ low, high, log }, share) => (log ? low * (high / low) ** share : low + share * (high - low));

/** Words on at most three lines of a width in px. */
function words(text, width) {
  const lines = [""];
  for (const word of text.split(" ")) {
    const longer = `${lines.at(-1)} ${word}`.trim();
    if (lines.at(-1) && textWidth(longer, 11.5) > width && lines.length < 3) lines.push(word);
    else lines[lines.length - 1] = longer;
  }
  return lines;
}

/** From the colour of low values to that of high ones, by lightness too. */
function shadeOf(share) {
  const [low, high] = [colourOf("surround"), colourOf("driven")].map((hex) => [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16)));
  return `rgb(${low.map((one, k) => Math.round(one + share * (high[k] - one))).join(",")})`;
}
