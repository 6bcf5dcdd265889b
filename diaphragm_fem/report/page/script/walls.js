// The page of walls: a grid tinted by what is better than as drawn, its figures over thickness, the card of one wall.

function openWalls(data) {
  const { materials, thickness, figures } = data, count = thickness.length;
  const state = new State({ figure: 0, at: 0 }), select = find("#figure");
  figures.forEach((figure, k) => select.append(make("option", { value: k }, labelOf(figure))));
  select.addEventListener("change", () => state.set({ figure: Number(select.value) }));
  const grid = new Grid(find("#grid"), materials, thickness, (at) => state.set({ at }));
  const figure = () => figures[state.get("figure")];
  let chart = null;

  const show = () => {
    const now = figure(), best = bestOf(now), m = Math.floor(state.get("at") / count), t = state.get("at") % count;
    const drawn = `as drawn (${data.drawn}) ${shownValue(now, now.drawn)}.`;
    find("#best").textContent = withUnits(`${capital(now.words)}: ${bestWords(now, best, materials, thickness)}; ${drawn}`);
    grid.show(now, state.get("at"));
    find("#wall-name").textContent = `${materials[m]}, ${digits(thickness[t])} µm`;
    card(find("#card"), figures, state.get("at"));
    chart?.cursor(thickness[t]);
  };
  const drawLines = () => {
    const now = figure(), host = find("#lines"), values = [...now.values, now.drawn].filter(Number.isFinite);
    host.replaceChildren();
    if (count < 2) return;
    const [low, high] = [Math.min(...values), Math.max(...values)], room = (high - low) * 0.06 || Math.abs(high) * 0.1 || 1;
    chart = new Chart(host, new Axis(thickness[0], thickness[count - 1]), {
      label: labelOf(now), height: 330, numbered: true, along: "thickness, µm", low: low - room, high: high + room,
      alwaysNamed: true,
      lines: materials.map((name, m) => ({ hz: thickness, value: now.values.subarray(m * count, (m + 1) * count), name, look: lookOf(m) })),
      marks: [{ hz: data.drawn_at, words: "as drawn" }],
      drag: (at) => state.set({ at: Math.floor(state.get("at") / count) * count + nearest(thickness, at) }),
      read: () => [{ value: now.values[state.get("at")] }],
    });
  };
  state.on(["figure"], () => { drawLines(); show(); });
  state.on(["at"], show);
  const first = bestOf(figure());
  state.values.at = Math.max(first, 0);
  drawLines();
  show();
  window.walls = { state, grid };
}

const labelOf = ({ words, unit }) => (unit ? `${words}, ${unit}` : words);
const isNone = (figure, value) => value === null || !Number.isFinite(value) || (figure.extreme && value === 0); // no peak, no hole
const isBeyond = (figure, value) => figure.beyond !== null && value > 0.999999 * figure.beyond; // what was searched
const shownValue = (figure, value) => isBeyond(figure, value) ? `above ${showHz(figure.beyond)}` : (!isNone(figure, value) ? (figure.unit === "Hz" ? showHz(value) : `${digits(value)} ${figure.unit}`.trim()) : NONE);

function bestWords(figure, best, materials, thickness) {
  if (!figure.better) return "neither more nor less is better by itself";
  if (best < 0) return "no wall has one";
  const t = best % thickness.length, m = Math.floor(best / thickness.length), last = thickness.length - 1;
  const end = last && (t === 0 || t === last) ? `, the ${t ? "thickest" : "thinnest"} tried, so a better one may lie beyond` : "";
  const unmet = figure.values.filter((value) => isBeyond(figure, value)).length;
  return `best in ${unmet > 1 ? `${unmet} walls, first in ` : ""}${materials[m]} of ${digits(thickness[t])} µm, ${shownValue(figure, figure.values[best])}${end}`;
}

function bestOf({ values, better }) {
  let best = -1;
  values.forEach((value, k) => { if (Number.isFinite(value) && (best < 0 || better * (value - values[best]) > 0)) best = k; });
  return best;
}

function nearest(values, at) {
  let best = 0;
  values.forEach((value, k) => { if (Math.abs(Math.log(value / at)) < Math.abs(Math.log(values[best] / at))) best = k; });
  return best;
}

/** How much better a value is than as drawn, as a ratio in octaves: above 0 better. */
function betterBy({ kind, better, drawn }, value) {
  if (!Number.isFinite(value) || drawn === null || !better) return 0;
  if (kind === "level") return (better * (value - drawn)) / 6.02;
  if (kind === "octaves") return better * (value - drawn);
  return value > 0 && drawn > 0 ? better * Math.log2(value / drawn) : 0;
}

function card(host, figures, at) {
  const rows = figures.map((figure) => {
    const value = figure.values[at], by = betterBy(figure, value);
    const change = !Number.isFinite(value) || isBeyond(figure, value) || isBeyond(figure, figure.drawn) || figure.drawn === null || (isNone(figure, value) && isNone(figure, figure.drawn)) ? "" : figure.kind === "ratio"
      ? `${signed((100 * value) / figure.drawn - 100)} %` : `${signed(value - figure.drawn, figure.kind === "level" ? 1 : 2)} ${figure.unit}`;
    const word = Math.abs(by) < 0.01 ? "" : by > 0 ? "better" : "worse";
    return make("tr", {}, make("td", {}, figure.words), make("td", { class: "number" }, shownValue(figure, value)),
      make("td", { class: "number" }, shownValue(figure, figure.drawn)), make("td", { class: "number" }, change), make("td", { class: word }, word));
  });
  const head = ["figure", "this wall", "as drawn", "change", ""].map((word, k) => make("th", { scope: "col", class: k && k < 4 ? "number" : null }, word));
  host.replaceChildren(make("table", {}, make("thead", {}, make("tr", {}, ...head)), make("tbody", {}, ...rows)));
}

const DEEPEST = 0.5; // of a tint, on which ink is still read

/** Materials down, thicknesses across; a click or the arrow keys choose a wall. */
class Grid {
  constructor(canvas, materials, thickness, choose) {
    Object.assign(this, { canvas, materials, thickness, choose });
    canvas.addEventListener("pointerdown", (event) => this.pick(event));
    canvas.addEventListener("pointermove", (event) => { if (event.buttons) this.pick(event); });
    canvas.addEventListener("keydown", (event) => {
      const [down, right] = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] }[event.key] ?? [];
      if (down === undefined) return;
      const count = thickness.length, m = clamp(Math.floor(this.at / count) + down, 0, materials.length - 1);
      choose((this.at = m * count + clamp((this.at % count) + right, 0, count - 1))); // at once: the next key may be quicker than a frame
      event.preventDefault();
    });
    redraws.push(() => this.render());
  }
  pick(event) {
    const box = this.canvas.getBoundingClientRect(), x = event.clientX - box.left - this.left, y = event.clientY - box.top - 22;
    if (x < 0 || y < 0) return;
    const t = clamp(Math.floor(x / this.wide), 0, this.thickness.length - 1), m = clamp(Math.floor(y / this.tall), 0, this.materials.length - 1);
    this.choose(m * this.thickness.length + t);
  }
  show(figure, at) {
    Object.assign(this, { figure, at });
    this.render();
  }
  render() {
    const { canvas, materials, thickness, figure } = this;
    if (!figure) return;
    const width = canvas.parentElement.clientWidth, dense = window.devicePixelRatio || 1;
    this.left = Math.min(190, width * 0.32);
    this.wide = (width - this.left) / thickness.length;
    this.tall = clamp(420 / materials.length, 20, 46);
    const height = 24 + this.tall * materials.length;
    [canvas.width, canvas.height] = [Math.round(width * dense), Math.round(height * dense)];
    canvas.style.height = `${height}px`;
    const context = canvas.getContext("2d");
    context.setTransform(dense, 0, 0, dense, 0, 0);
    const [ink, soft, better, worse, hair, paper] = ["ink", "soft", "better", "worse", "hair", "paper"].map(colourOf);
    context.font = `11px ${getComputedStyle(document.body).fontFamily}`;
    context.textBaseline = "middle";
    context.fillStyle = soft;
    context.textAlign = "center";
    const every = Math.ceil(46 / this.wide);
    thickness.forEach((one, t) => { if (t % every === 0) context.fillText(`${+one.toPrecision(3)}`, this.left + (t + 0.5) * this.wide, 10); });
    context.textAlign = "left";
    context.fillText("µm", 0, 10);
    materials.forEach((name, m) => {
      const y = 22 + m * this.tall;
      context.fillStyle = ink;
      context.textAlign = "left";
      context.fillText(name, 0, y + this.tall / 2, this.left - 8);
      thickness.forEach((_, t) => {
        const value = figure.values[m * thickness.length + t], x = this.left + t * this.wide, by = betterBy(figure, value);
        context.fillStyle = paper;
        context.fillRect(x, y, this.wide, this.tall);
        if (!Number.isFinite(value)) {
          context.fillStyle = hair;
          context.fillRect(x + 1, y + 1, this.wide - 1, this.tall - 2);
        } else {
          context.globalAlpha = Math.abs(by) > 0.01 ? Math.min(DEEPEST, 0.06 + 0.5 * Math.abs(by)) : 0;
          context.fillStyle = by > 0 ? better : worse;
          context.fillRect(x + (this.wide > 6 ? 1 : 0), y + 1, this.wide - (this.wide > 6 ? 1 : 0), this.tall - 2);
          context.globalAlpha = 1;
          if (this.wide > 44) {
            context.fillStyle = ink;
            context.textAlign = "center";
            context.fillText(digits(value), x + this.wide / 2, y + this.tall / 2);
          }
        }
      });
    });
    const m = Math.floor(this.at / thickness.length), t = this.at % thickness.length;
    context.strokeStyle = ink;
    context.lineWidth = 2;
    context.strokeRect(this.left + t * this.wide + 1, 22 + m * this.tall + 1, this.wide - 1, this.tall - 2);
    canvas.setAttribute("aria-valuemax", figure.values.length - 1);
    canvas.setAttribute("aria-valuenow", this.at);
    canvas.setAttribute("aria-valuetext", `${materials[m]}, ${digits(thickness[t])} µm: ${shownValue(figure, figure.values[this.at])}`);
  }
}
