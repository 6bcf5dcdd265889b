// Elements, packed numbers and numbers as people write them: what every page uses.

const make = (tag, attributes = {}, ...children) => dress(document.createElement(tag), attributes, children);
const draw = (tag, attributes = {}, ...children) =>
  dress(document.createElementNS("http://www.w3.org/2000/svg", tag), attributes, children);

function dress(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) if (value !== null) element.setAttribute(name, value);
  element.append(...children); // texts become text nodes: markup in a name stays text
  return element;
}

const find = (selector, within = document) => within.querySelector(selector);
const findAll = (selector, within = document) => [...within.querySelectorAll(selector)];

function readData() {
  const data = find("#data");
  return data ? unpackAll(JSON.parse(data.textContent)) : null;
}

/** Every packed array in place of its text: typed arrays, with their shape. */
function unpackAll(value) {
  if (Array.isArray(value)) return value.map(unpackAll);
  if (value === null || typeof value !== "object") return value;
  if (typeof value.data === "string" && value.kind) return unpack(value);
  return Object.fromEntries(Object.entries(value).map(([key, inner]) => [key, unpackAll(inner)]));
}

const KINDS = { f8: Float64Array, f4: Float32Array, i2: Int16Array, u2: Uint16Array, u4: Uint32Array, u1: Uint8Array };

function unpack({ kind, shape, data, step }) {
  const bytes = Uint8Array.from(atob(data), (letter) => letter.charCodeAt(0));
  const raw = new KINDS[kind](bytes.buffer);
  const found = step ? stretched(raw, unpack(step), shape) : raw;
  found.shape = shape;
  return found;
}

/** Rows of 16-bit steps as floats. */
function stretched(raw, step, shape) {
  const width = shape.slice(1).reduce((a, b) => a * b, 1);
  return Float32Array.from(raw, (value, index) => value * step[Math.floor(index / width)]);
}

/** Real and imaginary parts of a packed complex array as two arrays. */
function split(both) {
  const re = new Float64Array(both.length / 2), im = new Float64Array(both.length / 2);
  for (let k = 0; k < re.length; k++) [re[k], im[k]] = [both[2 * k], both[2 * k + 1]];
  return { re, im };
}

// ---- numbers in words, as the rest of the results writes them

const NONE = "none";

function digits(value, count = 3) {
  if (!Number.isFinite(value)) return NONE;
  if (value === 0) return "0";
  let places = count - 1 - Math.floor(Math.log10(Math.abs(value)));
  const rounded = Number(value.toPrecision(count));
  if (rounded) places = count - 1 - Math.floor(Math.log10(Math.abs(rounded)));
  return rounded.toFixed(Math.max(places, 0)).replace("-", "−");
}

const showHz = (hz, count = 3) =>
  !Number.isFinite(hz) ? NONE : hz >= 999.5 ? `${digits(hz / 1e3, count)} kHz` : `${digits(hz, count)} Hz`;
const showArea = (area) => `${digits(area * 1e4)} cm²`;
function signed(value, places = 1) {
  const size = Math.abs(value).toFixed(places);
  return `${Number(size) ? (value < 0 ? "−" : "+") : "±"}${size}`;
}
const showDb = (db) => (Number.isFinite(db) ? `${signed(db)} dB` : NONE);
const showLevel = (db) => `${db.toFixed(1)} dB`.replace("-", "−");
const showDegrees = (angle) => `${Math.round((angle * 180) / Math.PI)}°`.replace("-", "−");
const joinWords = (words) =>
  words.length < 2 ? words.join("") : `${words.slice(0, -1).join(", ")} and ${words[words.length - 1]}`;
/** Words whose numbers keep their units beside them where a line is broken. */
const withUnits = (words) => words.replace(/(\d) (?=(?:[kMGcmµn]?(?:Hz|m[²³]?|g|Pa|V|W|N|A|Ω|s|l)|%|dB|ohm|oct(?:aves)?)(?![a-zA-Z]))/g, "$1\u00a0");
/** Long words with soft hyphens before a consonant that has a vowel after it: a browser without a dictionary broke
 *  narrow heads as "resonanc-e". */
const syllables = (words) => words.replace(/[a-z]{9,}/gi, (word) =>
  word.replace(/(?<=\w{3})(?<![bcdfgpt](?=[lr]))(?=(?:[bcdfgpt][lr]|qu|[b-df-hj-np-tv-z])[aeiouy]\w)/gi, "\u00ad"));
const capital = (words) => words.slice(0, 1).toUpperCase() + words.slice(1);

const orderWord = (m) => ["m = 0", "1, rocks", "2, petals", "3, petals", "4, petals"][m] ?? `m = ${m}`;

/** Hz from "6 kHz", "640", "2.5k"; NaN where it says none. */
function readHz(text) {
  const found = /^\s*(\d+(?:\.\d*)?|\.\d+)\s*(k?)\s*(?:hz)?\s*$/i.exec(text);
  return found ? Number(found[1]) * (found[2] ? 1e3 : 1) : NaN;
}

const clamp = (value, low, high) => Math.min(Math.max(value, low), high);
const roleClass = (zone) => `role-${zone.look}`;
const colourOf = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();

/** Values that others want to hear of; all changes of one moment are told once, before the next frame. */
class State {
  constructor(values) {
    Object.assign(this, { values, listeners: [], waiting: null });
  }
  get(name) {
    return this.values[name];
  }
  set(changes) {
    const changed = Object.keys(changes).filter((name) => this.values[name] !== changes[name]);
    if (!changed.length) return;
    Object.assign(this.values, changes);
    if (!this.waiting) {
      this.waiting = new Set();
      requestAnimationFrame(() => this.tell());
    }
    changed.forEach((name) => this.waiting.add(name));
  }
  tell() {
    const changed = this.waiting ?? new Set();
    this.waiting = null;
    for (const [names, call] of this.listeners) if (names.some((name) => changed.has(name))) call();
  }
  on(names, call) {
    this.listeners.push([names, call]);
  }
}

// ---- theme, paper and size: what makes everything be drawn anew

const redraws = [];
const onPaper = () => document.documentElement.classList.contains("paper");

function redrawAll() {
  for (const call of redraws) call();
}

function watchLook() {
  const root = document.documentElement, button = find("#theme");
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const shown = () => root.dataset.theme ?? (dark.matches ? "dark" : "light");
  const label = () => button && (button.textContent = shown() === "dark" ? "light" : "dark");
  button?.addEventListener("click", () => {
    root.dataset.theme = shown() === "dark" ? "light" : "dark";
    label();
    redrawAll();
  });
  dark.addEventListener("change", () => { label(); redrawAll(); });
  // a canvas prints as it was last drawn, and a chart as wide as it was: both are drawn for paper first
  // paper cannot be unfolded: what is told of further warnings stands open there
  let unfolded = [];
  addEventListener("beforeprint", () => {
    root.classList.add("paper");
    unfolded = findAll("details.more:not([open])");
    for (const more of unfolded) more.open = true;
    redrawAll();
  });
  addEventListener("afterprint", () => {
    root.classList.remove("paper");
    for (const more of unfolded) more.open = false;
    redrawAll();
  });
  let width = innerWidth;
  addEventListener("resize", () => {
    if (innerWidth !== width && !onPaper()) { width = innerWidth; redrawAll(); }
  });
  label();
}
