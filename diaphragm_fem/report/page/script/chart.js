// Charts over frequency: one logarithmic axis for all of them, so that one cursor reads them all.

const LEFT = 44, RIGHT = 14; // px beside every chart, strip and slider: what belongs together stands one above the other

class Axis {
  constructor(low, high) {
    Object.assign(this, { low, high });
  }
  place(hz, width) {
    return LEFT + this.share(hz) * (width - LEFT - RIGHT);
  }
  hz(x, width) {
    return this.low * (this.high / this.low) ** clamp((x - LEFT) / (width - LEFT - RIGHT), 0, 1);
  }
  share(hz) {
    return Math.log(hz / this.low) / Math.log(this.high / this.low);
  }
  ticks(steps = [1, 2, 5]) {
    const found = [];
    for (let decade = 10 ** Math.floor(Math.log10(this.low)); decade <= this.high; decade *= 10) {
      for (const step of steps) {
        const hz = step * decade;
        if (hz >= this.low * 0.9999 && hz <= this.high * 1.0001) found.push(hz);
      }
    }
    return found;
  }
}

const showTick = (hz) => (hz >= 1000 ? `${+(hz / 1000).toPrecision(3)}k` : `${+hz.toPrecision(3)}`);

/** A start of the axis that is round, at or below a frequency. */
function roundBelow(hz) {
  const decade = 10 ** Math.floor(Math.log10(hz));
  return ([5, 2, 1].find((step) => step * decade <= hz * 1.0001) ?? 1) * decade;
}

function niceTicks(low, high, most = 5) {
  const rough = (high - low) / most, decade = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 2.5, 5, 10].find((one) => one * decade >= rough) * decade;
  const found = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9 * step; k++) found.push(+(k * step).toPrecision(12));
  return found;
}

function logTicks(low, high) {
  const inside = (steps) => new Axis(low, high).ticks(steps);
  return [[1], [1, 3], [1, 2, 5], [1, 1.5, 2, 3, 5, 7], [1, 1.5, 2, 3, 4, 5, 6, 7, 8, 9]].map(inside).find((x) => x.length >= 4)
    ?? niceTicks(low, high, 4);
}

/** Tells where on an axis a finger or a mouse is while it presses a drawing. */
function dragging(svg, axis, drag) {
  const move = (event) => {
    const box = svg.getBoundingClientRect();
    drag(axis.hz(event.clientX - box.left, box.width));
  };
  svg.classList.add("draggable");
  svg.addEventListener("pointerdown", (event) => { svg.setPointerCapture(event.pointerId); move(event); });
  svg.addEventListener("pointermove", (event) => { if (event.buttons) move(event); });
}

/** The look of the k-th line of many, from 0: six colours, and dashes of their own once these come again. */
const lookOf = (k) => `design-${k % 6}${k < 6 ? "" : ` again-${Math.floor(k / 6) % 3}`}`;

const MOST_TOLD = 6; // lines in words

/**
 * One chart: lines [{hz, value, name, look}] over an axis. options: label, height, low, high (of the values), log,
 * numbered (write the frequencies below), marks [{hz, words}], bands [{from, to, words, look}], drag(hz) while a finger or
 * a mouse is on it, read(hz) -> [{value, words, look}] for the cursor.
 */
class Chart {
  constructor(host, axis, options) {
    Object.assign(this, { host, axis, options });
    this.svg = draw("svg", { class: "chart", role: "img" });
    host.append(this.svg);
    if (options.drag) dragging(this.svg, axis, options.drag);
    redraws.push(() => this.render());
    this.take({});
  }

  /** Shows other lines, marks or bands. */
  take(options) {
    Object.assign(this.options, options);
    this.svg.setAttribute("aria-label", this.told());
    this.render();
  }

  /** What the chart shows, for who hears it: how far each line reaches, and what is marked. */
  told() {
    const { label, lines, marks = [], bands = [], along } = this.options, { low, high } = this.axis;
    const at = (hz) => (along ? `${digits(hz)} ${along.split(", ").at(-1)}` : showHz(hz));
    const reach = lines.slice(0, MOST_TOLD).map(({ hz, value, name }) => {
      const shown = Array.from(hz, (_, k) => k).filter((k) => hz[k] >= low && hz[k] <= high && Number.isFinite(value[k]));
      if (!shown.length) return "";
      const [least, most] = [-1, 1].map((sign) => shown.reduce((one, other) => (sign * (value[other] - value[one]) > 0 ? other : one)));
      return `${name ? `${name}: ` : ""}lowest ${digits(value[least])} at ${at(hz[least])}, highest ${digits(value[most])} at ${at(hz[most])}`;
    });
    const more = lines.length > MOST_TOLD ? [`and ${lines.length - MOST_TOLD} more`] : [];
    const marked = marks.filter(({ words }) => words).map(({ hz, words }) => `${words}${along ? "" : ` ${showHz(hz)}`}`);
    return [label, ...reach, ...more, ...marked, ...bands.map((band) => band.words)].filter(Boolean).join("; ");
  }

  height(value) {
    const { low, high, log } = this.options, span = this.bottom - this.top;
    const share = log ? Math.log(value / low) / Math.log(high / low) : (value - low) / (high - low);
    return this.bottom - share * span;
  }

  render() {
    const { options, axis } = this;
    this.width = Math.max(this.host.clientWidth, 200);
    this.layLegend();
    this.layMarks();
    const above = 14 * this.legendRows + 12 * this.markRows;
    this.top = 22 + above;
    this.full = (options.height ?? 200) * (onPaper() ? 0.68 : 1) + above;
    this.bottom = this.full - (options.numbered ? 34 : 8);
    const { width } = this;
    this.svg.setAttribute("viewBox", `0 0 ${width} ${this.full}`);
    this.svg.replaceChildren();
    const clip = `clip-${Chart.count = (Chart.count ?? 0) + 1}`;
    this.svg.append(draw("clipPath", { id: clip }, draw("rect", {
      x: LEFT, y: this.top, width: width - LEFT - RIGHT, height: this.bottom - this.top,
    })));
    for (const band of options.bands ?? []) this.band(band);
    this.grid();
    const lines = draw("g", { "clip-path": `url(#${clip})` });
    for (const line of options.lines) {
      lines.append(draw("path", { class: `line ${line.look ?? ""}`, d: this.path(line) }));
    }
    this.svg.append(lines, draw("text", { class: "title", x: 2, y: 12 }, options.label));
    this.legend();
    for (const mark of this.worded) this.mark(mark);
    this.pointer = draw("line", { class: "cursor", y1: this.top, y2: this.bottom, x1: -9, x2: -9 });
    this.dots = draw("g");
    this.svg.append(this.pointer, this.dots);
    if (this.at) this.cursor(this.at);
  }

  path({ hz, value }) {
    let text = "", pen = "M";
    for (let k = 0; k < hz.length; k++) {
      if (!Number.isFinite(value[k]) || (this.options.log && value[k] <= 0)) { pen = "M"; continue; }
      const y = clamp(this.height(value[k]), -2000, 4000);
      text += `${pen}${this.axis.place(hz[k], this.width).toFixed(1)} ${y.toFixed(1)}`;
      pen = "L";
    }
    return text;
  }

  grid() {
    const { axis, width, options } = this, narrow = width < 420;
    for (const hz of (options.along ? logTicks(axis.low, axis.high) : axis.ticks(narrow ? [1, 3] : [1, 2, 5]))) {
      const x = axis.place(hz, width);
      this.svg.append(draw("line", { class: "grid", x1: x, x2: x, y1: this.top, y2: this.bottom }));
      if (options.numbered) this.svg.append(draw("text", { class: "tick", x, y: this.bottom + 14, "text-anchor": "middle" }, showTick(hz)));
    }
    if (options.numbered) {
      this.svg.append(draw("text", { class: "tick", x: width - RIGHT, y: this.bottom + 29, "text-anchor": "end" }, options.along ?? "frequency, Hz"));
    }
    const ticks = options.ticks ?? (options.log ? logTicks(options.low, options.high) : niceTicks(options.low, options.high));
    for (const value of ticks) {
      const y = this.height(value);
      if (y < this.top - 0.5 || y > this.bottom + 0.5) continue;
      this.svg.append(draw("line", { class: "grid", x1: LEFT, x2: width - RIGHT, y1: y, y2: y }));
      const words = options.tickWords?.(value) ?? `${+value.toPrecision(3)}`.replace("-", "−");
      this.svg.append(draw("text", { class: "tick", x: LEFT - 5, y: y + 3.5, "text-anchor": "end" }, words));
    }
    this.svg.append(draw("path", { class: "frame", d: `M${LEFT} ${this.top}V${this.bottom}H${width - RIGHT}` }));
  }

  /** Where the lines' names stand: right of the title where there is room, else in rows below it. */
  layLegend() {
    const named = this.options.lines.filter((line) => line.name);
    const room = this.width - RIGHT, shown = named.length > 1 || this.options.alwaysNamed ? named : [];
    const entries = shown.map((line) => {
      const name = cutTo(line.name, room - LEFT - 34, 10.5);
      return { ...line, name, whole: line.name, wide: textWidth(name, 10.5) + 34 };
    });
    const all = entries.reduce((sum, entry) => sum + entry.wide, 0);
    if (textWidth(this.options.label, 11.5) + 16 + all < room) {
      let x = room - all;
      for (const entry of entries) [entry.x, entry.y, x] = [x, 12, x + entry.wide];
      this.legendRows = 0;
    } else {
      let [x, row] = [LEFT, 1];
      for (const entry of entries) {
        if (x > LEFT && x + entry.wide > room) [x, row] = [LEFT, row + 1];
        [entry.x, entry.y, x] = [x, 12 + 14 * row, x + entry.wide];
      }
      this.legendRows = row;
    }
    this.entries = entries;
  }

  legend() {
    for (const { x, y, look, name, whole } of this.entries) {
      const words = draw("text", { class: "tick", x: x + 26, y }, name);
      if (name !== whole) words.append(draw("title", {}, whole));
      this.svg.append(draw("path", { class: `line ${look ?? ""}`, d: `M${x + 4} ${y - 3.5}h18` }), words);
    }
  }

  /** In which row above the lines the words of each mark stand, the lowest in which they touch no others. */
  layMarks() {
    const ends = [];
    this.worded = [];
    for (const { hz, words } of [...this.options.marks ?? []].sort((one, other) => one.hz - other.hz)) {
      const x = this.axis.place(hz, this.width), half = textWidth(words, 10) / 2;
      if (x < LEFT || x > this.width - RIGHT) continue;
      const middle = Math.min(x, this.width - half - 2);
      let row = words ? ends.findIndex((end) => end + 6 < middle - half) : 0;
      if (row < 0) row = ends.length;
      if (words) ends[row] = middle + half;
      this.worded.push({ hz, words, x, middle, row });
    }
    this.markRows = ends.length;
  }

  mark({ hz, words, x, middle, row }) {
    this.svg.append(
      draw("line", { class: "mark", x1: x, x2: x, y1: this.top, y2: this.bottom }, draw("title", {}, `${words} ${showHz(hz)}`)),
      draw("text", { class: "mark-words", x: middle, y: this.top - 4 - 12 * row, "text-anchor": "middle" }, words),
    );
  }

  /** Over the whole height, or of the look "foot" a bar along the foot. */
  band({ from, to, words, look }) {
    const x = this.axis.place(Math.max(from, this.axis.low), this.width), end = this.axis.place(Math.min(to, this.axis.high), this.width);
    if (!(end > x)) return;
    const top = look === "foot" ? this.bottom - 5 : this.top;
    this.svg.append(draw("rect", { class: `band ${look ?? ""}`, x, y: top, width: end - x, height: this.bottom - top }, draw("title", {}, words)));
  }

  cursor(hz) {
    this.at = hz;
    const x = this.axis.place(hz, this.width), seen = x >= LEFT - 1 && x <= this.width - RIGHT + 1;
    this.pointer.setAttribute("x1", seen ? x : -9);
    this.pointer.setAttribute("x2", seen ? x : -9);
    if (!this.options.read) return;
    this.dots.replaceChildren();
    if (!seen) return;
    for (const { value, look } of this.options.read(hz)) {
      if (!Number.isFinite(value)) continue;
      const y = this.height(value);
      if (y >= this.top - 3 && y <= this.bottom + 3) this.dots.append(draw("circle", { class: `dot ${look ?? ""}`, cx: x, cy: y, r: 4 }));
    }
  }
}

let measure = null;

/** Width in px of words in the page's type. */
function textWidth(words, size) {
  measure ??= document.createElement("canvas").getContext("2d");
  measure.font = `${size}px ${getComputedStyle(document.body).fontFamily}`;
  return measure.measureText(words).width;
}

/** Words, their end cut where they are wider than so many px. */
function cutTo(words, wide, size) {
  let shown = words;
  for (let kept = words.length - 1; kept > 0 && textWidth(shown, size) > wide; kept--) shown = `${words.slice(0, kept).trimEnd()}…`;
  return shown;
}

const AGAINST_SHOWN = -0.9, WITH_SHOWN = 1.6; // of the coil's motion: where a strip ends

/** Strips, one for each zone from the inside out: above the line it rides with the coil, below it works against it. */
class Strips {
  constructor(host, axis, zones, drag) {
    Object.assign(this, { axis, zones, hz: [] });
    this.rows = zones.map((zone) => {
      const words = make("span"), chart = make("div", { class: "strip-chart" });
      host.append(make("div", { class: `strip ${roleClass(zone)}` },
        make("span", {}, make("i", { class: "chip" }), zone.name), words, chart));
      const svg = draw("svg", { class: "strip-svg", role: "img" });
      chart.append(svg);
      dragging(svg, axis, drag);
      return { chart, svg, words, name: zone.name };
    });
    redraws.push(() => this.render());
  }

  /** Shows the shares of each zone over frequencies in Hz. */
  take(hz, share) {
    const stand = (value) => clamp(value, AGAINST_SHOWN, WITH_SHOWN);
    this.hz = hz;
    this.rows.forEach((row, k) => { row.share = Float64Array.from(share[k], stand); });
    this.render();
  }

  render() {
    for (const row of this.rows) {
      const width = Math.max(row.chart.clientWidth, 200), height = onPaper() ? 15 : 22, zero = height * 0.64, unit = height * 0.385;
      row.width = width;
      row.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
      const area = (sign) => {
        let path = "";
        for (let k = 0; k < this.hz.length; k++) {
          const value = sign * row.share[k] > 0 ? row.share[k] : 0;
          path += `${k ? "L" : "M"}${this.axis.place(this.hz[k], width).toFixed(1)} ${(zero - unit * value).toFixed(1)}`;
        }
        const [first, last] = [this.hz[0], this.hz[this.hz.length - 1]].map((hz) => this.axis.place(hz, width).toFixed(1));
        return `${path}L${last} ${zero}L${first} ${zero}Z`;
      };
      const edge = (end) => {
        let path = "", on = false;
        for (let k = 0; k < this.hz.length; k++) {
          const beyond = row.share[k] === end;
          if (beyond) path += `${on ? "L" : "M"}${this.axis.place(this.hz[k], width).toFixed(1)} ${(zero - unit * end).toFixed(1)}`;
          on = beyond;
        }
        return path;
      };
      const id = `strip-${Strips.count = (Strips.count ?? 0) + 1}`;
      row.pointer = draw("line", { class: "cursor", y1: 0, y2: height });
      row.svg.replaceChildren(
        draw("clipPath", { id }, draw("rect", { x: LEFT, y: 0, width: width - LEFT - RIGHT, height })),
        draw("g", { "clip-path": `url(#${id})` },
          draw("path", { class: "rides", d: area(1) }), draw("path", { class: "against", d: area(-1) }),
          draw("path", { class: "beyond", d: edge(WITH_SHOWN) + edge(AGAINST_SHOWN) })),
        draw("line", { class: "one", x1: LEFT, x2: width - RIGHT, y1: zero - unit, y2: zero - unit }),
        draw("line", { class: "zero", x1: LEFT, x2: width - RIGHT, y1: zero, y2: zero }), row.pointer);
    }
    if (this.at) this.cursor(...this.at);
  }

  cursor(hz, share) {
    this.at = [hz, share];
    this.rows.forEach((row, k) => {
      const x = this.axis.place(hz, row.width), seen = x >= LEFT - 1 && x <= row.width - RIGHT + 1;
      row.pointer.setAttribute("x1", seen ? x : -9);
      row.pointer.setAttribute("x2", seen ? x : -9);
      row.words.textContent = share[k] ? `${signed(share[k][0], 2).replace(/[+±]/, "")} ${shareWord(share[k])}` : "";
      row.svg.setAttribute("aria-label", `share of the ${row.name} over frequency; at ${showHz(hz)} ${row.words.textContent || "the coil moves"}`);
    });
  }
}

/** What a share of a zone means: below 0.3 it stands still; else it rides, swings further, lags or works against. */
function shareWord(share) {
  const size = c.size(share), angle = Math.abs(c.angle(share));
  if (size < 0.3) return "still";
  if (angle > (2 * Math.PI) / 3) return "against";
  if (angle > Math.PI / 3) return share[1] < 0 ? "lags" : "leads";
  return size > Math.SQRT2 ? "swings" : "rides";
}

// ---- ranges of the curves

/** The top of the response's panel: its plateau in the middle, unless a peak needs more. */
function levelTop(hz, level, from) {
  let top = 12;
  for (let k = 0; k < hz.length; k++) if (hz[k] >= from) top = Math.max(top, level[k] + 2);
  return Math.min(Math.ceil(top / 5) * 5, 40);
}

/** |S| within 30 dB about the low area, less where the curve needs less. */
function areaRange(size, low) {
  const least = low / 10 ** 1.5, most = low * 10 ** 1.5;
  const bottom = Math.min(low / 2, ...size), top = Math.max(low * 2, ...size);
  return { low: Math.max(bottom / 1.15, least), high: Math.min(top * 1.15, most) };
}

function sizes(both, factor) {
  const { re, im } = split(both);
  return re.map((value, k) => factor * Math.hypot(value, im[k]));
}

/** Frequencies of the peaks and dips of a curve. */
function extremes(hz, level) {
  return Array.from(hz).filter((_, k) => (level[k] - level[k - 1]) * (level[k + 1] - level[k]) < 0);
}
