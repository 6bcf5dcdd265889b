// The page of a study: parallel axes sift the cases, the trade-off and the ranking show those that are kept.

const ROWS_SHOWN = 200, ROWS_PRINTED = 30;

function openStudy(data) {
  const count = data.number.length, rank = new Int32Array(count).fill(-1), order = data.order ?? [];
  order.forEach((k, place) => (rank[k] = place));
  const state = new State({ chosen: data.winner ?? order[0] ?? 0, sort: -1, down: false });
  const tell = () => {
    find("#count").textContent = `${parallel.kept} of ${count} cases`;
    scatter.render();
    ranking.render();
  };
  const axes = data.axes, shownFirst = data.wishes.length ? axes.findIndex((axis) => axis.key === data.wishes[0].figure) : -1;
  const parallel = new Parallel(find("#parallel"), axes, count, () => tell());
  parallel.colour = shownFirst >= 0 ? shownFirst : axes.length - 1;
  const scatter = new Scatter(find("#scatter"), data, axes, parallel, (chosen) => state.set({ chosen }));
  const ranking = new RankingTable(find("table.ranked"), data, axes, rank, parallel, state);

  const colour = find("#colour");
  axes.forEach((axis, a) => colour.append(make("option", { value: a }, axis.words)));
  colour.value = parallel.colour;
  colour.addEventListener("change", () => { parallel.colour = Number(colour.value); parallel.lines(); });
  find("#clear").addEventListener("click", () => parallel.clear());
  const figures = axes.map((axis, a) => [axis, a]).filter(([axis]) => axis.kind === "figure");
  const wanted = (k) => figures.find(([axis]) => axis.key === data.trade[k])?.[1] ?? figures[Math.min(k, figures.length - 1)]?.[1] ?? k;
  ["across", "up"].forEach((name, k) => {
    const select = find(`#${name}`);
    axes.forEach((axis, a) => select.append(make("option", { value: a }, axis.words)));
    select.value = scatter[name] = wanted(k);
    select.addEventListener("change", () => { scatter[name] = Number(select.value); scatter.render(); });
  });
  const choose = () => {
    parallel.chosen = state.get("chosen");
    parallel.lines();
    scatter.render();
    openCard(data, axes, rank, state.get("chosen"));
    ranking.mark(state.get("chosen"));
  };
  state.on(["chosen"], choose);
  state.on(["sort", "down"], () => ranking.render());
  redraws.push(() => ranking.render());
  choose();
  tell();
  window.study = { parallel, scatter, ranking, state, rank };
}

const cellText = (axis, value) =>
  !Number.isFinite(value) ? NONE : axis.names.length ? axis.names[value] : digits(value, 4);

function openCard(data, axes, rank, k) {
  const place = rank[k], file = data.files[k] || null, asSolved = data.drawn[k] ? " as solved" : "";
  find("#card-name").textContent = `Case ${data.number[k]}${place >= 0 ? `, rank ${place + 1}${asSolved}` : ""}`;
  const rounded = data.drawn[k]?.score ?? null;
  const asDrawn = rounded === null ? "" : ` As a drawing says it: ${rounded.toFixed(3)}.`;
  find("#why").textContent = whyThere(data, axes, place, k) + asDrawn + (file ? ` Its design file: ${file}.` : "");
  const drawn = data.drawn[k];
  const valued = (axis, value) => {
    const shown = cellText(axis, value ?? NaN);
    return make("td", { class: "number" }, shown === NONE ? NONE : `${shown} ${axis.unit}`.trim());
  };
  const rows = axes.map((axis) => {
    const value = axis.values[k], wish = data.wishes.findIndex((one) => one.figure === axis.key);
    const mark = wish >= 0 && place >= 0 ? data.marks[wish * data.order.length + place].toFixed(2) : "";
    return make("tr", {}, make("td", {}, axis.words), ...(drawn ? [valued(axis, drawn.values[axis.key])] : []), valued(axis, value), make("td", { class: "number" }, mark));
  });
  const titles = [...(drawn ? ["as drawn"] : []), drawn ? "as solved" : "value", data.wishes.length ? "mark" : ""];
  const head = make("tr", {}, make("th", { scope: "col" }, ""), ...titles.map((title) => make("th", { scope: "col", class: "number" }, title)));
  find("#card").replaceChildren(make("table", {}, make("thead", {}, head), make("tbody", {}, ...rows)));
}

/** Why a case ranks where it does: what its score is made of, or the limits that it breaks. */
function whyThere(data, axes, place, k) {
  if (place < 0) {
    const broken = data.limits.filter(({ figure, low, high }) => {
      const value = axes.find((axis) => axis.key === figure)?.values[k];
      return value !== undefined && !(Number.isFinite(value) && (low === null || value >= low) && (high === null || value <= high));
    });
    const words = joinWords(broken.map((limit) => limit.words));
    if (!data.wishes.length) return words ? `It breaks ${words}.` : data.limits.length ? "It keeps to all limits." : "";
    return words ? `Not ranked: it breaks ${words}.` : "Not ranked.";
  }
  const total = data.wishes.reduce((sum, wish) => sum + wish.weight, 0);
  const parts = data.wishes.map((wish, w) => [wish.words, (wish.weight / total) * data.marks[w * data.order.length + place]]);
  parts.sort((one, other) => other[1] - one[1]);
  const told = parts.map(([said, part]) => `${part.toFixed(3)} from ${said}`);
  return `Score ${data.score[place].toFixed(3)} of 1: ${joinWords(told)}.`;
}

/** Two figures against each other; the front that no case beats is ringed, a click opens the nearest case. */
class Scatter {
  constructor(canvas, data, axes, parallel, choose) {
    Object.assign(this, { canvas, data, axes, parallel, across: 0, up: 1 });
    canvas.addEventListener("pointerdown", (event) => {
      const box = canvas.getBoundingClientRect(), k = this.nearest(event.clientX - box.left, event.clientY - box.top);
      if (k >= 0) choose(k);
    });
    redraws.push(() => this.render());
  }
  place(k) {
    const { places } = this.parallel;
    return this.spot(places[this.across][k], places[this.up][k]);
  }
  spot(across, up) {
    return [52 + across * (this.width - 68), this.height - 34 - up * (this.height - 52)];
  }
  nearest(x, y) {
    let best = -1, far = 400;
    for (let k = 0; k < this.parallel.count; k++) {
      if (!this.parallel.keep[k]) continue;
      const [px, py] = this.place(k), away = (px - x) ** 2 + (py - y) ** 2;
      if (away < far) [best, far] = [k, away];
    }
    return best;
  }
  render() {
    const { canvas, parallel } = this, dense = window.devicePixelRatio || 1;
    this.width = Math.max(canvas.parentElement.clientWidth, 200);
    this.height = 340;
    [canvas.width, canvas.height] = [Math.round(this.width * dense), Math.round(this.height * dense)];
    canvas.style.height = `${this.height}px`;
    const context = canvas.getContext("2d");
    context.setTransform(dense, 0, 0, dense, 0, 0);
    const [ink, soft, hair] = ["ink", "soft", "hair"].map(colourOf);
    context.font = `10.5px ${getComputedStyle(document.body).fontFamily}`;
    this.ticks(context, soft, hair);
    context.fillStyle = hair;
    const size = parallel.count > 3000 ? 2 : 3.4;
    for (let k = 0; k < parallel.count; k++) if (!parallel.keep[k]) this.dot(context, k, size);
    context.globalAlpha = parallel.count > 1000 ? 0.55 : 0.85;
    const shade = parallel.places[parallel.colour], paints = Array.from({ length: BINS }, (_, bin) => shadeOf(bin / (BINS - 1)));
    for (let k = 0; k < parallel.count; k++) {
      if (!parallel.keep[k]) continue;
      context.fillStyle = paints[clamp(Math.floor((shade[k] || 0) * BINS), 0, BINS - 1)];
      this.dot(context, k, size);
    }
    canvas.setAttribute("aria-label", `${this.axes[this.up].words} over ${this.axes[this.across].words}, ${parallel.kept} of ${parallel.count} cases; a click opens one, as a row of the ranking does`);
    context.globalAlpha = 1;
    context.strokeStyle = soft;
    context.lineWidth = 1.2;
    if (this.axes[this.across].key === this.data.trade[0] && this.axes[this.up].key === this.data.trade[1]) {
      for (const k of this.data.front) this.ring(context, k, 4.5);
    }
    context.strokeStyle = ink;
    context.lineWidth = 2.4;
    if (parallel.chosen >= 0) this.ring(context, parallel.chosen, 6.5);
    this.base(context);
  }
  /** The base design as an upright cross, where it lies among the cases. */
  base(context) {
    const [across, up] = [this.across, this.up].map((a) => this.axes[a].basePlace);
    if (![across, up].every((share) => share >= 0 && share <= 1)) return;
    const [x, y] = this.spot(across, up);
    context.beginPath();
    for (const [dx, dy] of [[6, 0], [0, 6]]) {
      context.moveTo(x - dx, y - dy);
      context.lineTo(x + dx, y + dy);
    }
    context.stroke();
  }
  dot(context, k, size) {
    const [x, y] = this.place(k);
    if (x === x && y === y) context.fillRect(x - size / 2, y - size / 2, size, size);
  }
  ring(context, k, radius) {
    const [x, y] = this.place(k);
    if (x !== x || y !== y) return;
    context.beginPath();
    context.arc(x, y, radius, 0, 2 * Math.PI);
    context.stroke();
  }
  ticks(context, soft, hair) {
    const [across, up] = [this.axes[this.across], this.axes[this.up]];
    context.fillStyle = soft;
    context.strokeStyle = hair;
    context.lineWidth = 1;
    context.textAlign = "center";
    for (const [share, words] of ticksOf(across, this.width < 420 ? 4 : 6)) {
      const [x] = this.spot(share, 0);
      context.beginPath();
      context.moveTo(x, 18);
      context.lineTo(x, this.height - 34);
      context.stroke();
      context.fillText(words, x, this.height - 20);
    }
    context.textAlign = "right";
    for (const [share, words] of ticksOf(up, 6)) {
      const [, y] = this.spot(0, share);
      context.beginPath();
      context.moveTo(52, y);
      context.lineTo(this.width - 16, y);
      context.stroke();
      context.fillText(words, 47, y + 3.5);
    }
    context.textAlign = "right";
    context.fillText(`${across.words}${across.unit ? `, ${across.unit}` : ""}`, this.width - 16, this.height - 5);
    context.textAlign = "left";
    context.fillText(`${up.words}${up.unit ? `, ${up.unit}` : ""}`, 2, 11);
  }
}

/** Round values along an axis, or its names: the share of the axis and the words of each. */
function ticksOf(axis, most) {
  if (axis.names.length) return axis.names.map((name, k) => [placeOn(axis, k), name]);
  const ticks = axis.log ? logTicks(axis.low, axis.high) : niceTicks(axis.low, axis.high, most);
  return ticks.map((value) => [placeOn(axis, value), `${+value.toPrecision(4)}`.replace("-", "−")]);
}

/** The ranking of the cases that are kept; the first rows alone are made, whatever is sorted by. */
class RankingTable {
  constructor(table, data, axes, rank, parallel, state) {
    Object.assign(this, { table, data, axes, rank, parallel, state });
    const titles = [["rank", -1], ["case", -2], ...axes.map((axis, a) => [axis.unit ? `${axis.words}, ${axis.unit}` : axis.words, a])];
    this.heads = titles.map(([title, by]) => {
      const button = make("button", { type: "button", class: "sort" }, syllables(title)), head = make("th", { scope: "col", class: "number" }, button);
      button.addEventListener("click", () => state.set({ sort: by, down: state.get("sort") === by && !state.get("down") }));
      return [head, by];
    });
    find("thead", table).append(make("tr", {}, ...this.heads.map(([head]) => head)));
    table.addEventListener("click", (event) => {
      const row = event.target.closest("tbody tr");
      if (row) state.set({ chosen: Number(row.dataset.case) });
    });
    table.addEventListener("keydown", (event) => {
      if (event.key === "Enter" && event.target.dataset.case) state.set({ chosen: Number(event.target.dataset.case) });
    });
  }
  /** Cases in the order that is asked for; what has no value comes last. */
  sorted() {
    const by = this.state.get("sort"), sign = this.state.get("down") ? -1 : 1, { keep, count } = this.parallel;
    const keys = new Float64Array(count), cases = [];
    for (let k = 0; k < count; k++) {
      const value = by === -1 ? (this.rank[k] < 0 ? NaN : this.rank[k]) : by === -2 ? this.data.number[k] : this.axes[by].values[k];
      keys[k] = Number.isFinite(value) ? sign * value : Infinity;
      if (keep[k]) cases.push(k);
    }
    return cases.sort((a, b) => keys[a] - keys[b] || a - b);
  }
  render() {
    const cases = this.sorted(), shown = cases.slice(0, onPaper() ? ROWS_PRINTED : ROWS_SHOWN);
    for (const [head, by] of this.heads) {
      if (by === this.state.get("sort")) head.setAttribute("aria-sort", this.state.get("down") ? "descending" : "ascending");
      else head.removeAttribute("aria-sort");
    }
    find("tbody", this.table).replaceChildren(...shown.map((k) => {
      const cells = [this.rank[k] < 0 ? "–" : `${this.rank[k] + 1}`, `${this.data.number[k]}`, ...this.axes.map((axis) => cellText(axis, axis.values[k]))];
      return make("tr", { "data-case": k, tabindex: "0" }, ...cells.map((text) => make("td", { class: "number" }, text)));
    }));
    find("#shown").textContent = cases.length > shown.length ? `The first ${shown.length} of ${cases.length}; ranking.csv has all.` : "";
    this.mark(this.parallel.chosen);
  }
  mark(chosen) {
    for (const row of find("tbody", this.table).rows) row.classList.toggle("chosen", Number(row.dataset.case) === chosen);
  }
}
