// A driver under the same slider: level at the exit, impedance, and the pressure along the gap.

function openDriver(data, model, axis, drag) {
  const curve = data.around.curve, hz = curve.frequency_hz, charts = [];
  let found = null;
  if (curve.level_db) {
    const slots = curve.slot_db ? rowsOf(curve.slot_db) : [], shown = [curve.level_db, ...slots];
    const top = Math.ceil((Math.max(...curve.level_db) + 3) / 10) * 10;
    const lines = [
      ...(curve.even_db ? [{ hz, value: curve.even_db, look: "thin dashed", name: "even pressure" }] : []),
      ...slots.map((value, k) => ({ hz, value, look: `slot-${k % 3} dash-${k % 4} thin`, name: slots.length > 1 ? `slot ${k + 1} alone` : null })),
      ...(curve.sum_db ? [{ hz, value: curve.sum_db, look: "second", name: "both sections, crossed over" }] : []),
      { hz, value: curve.level_db, name: `${curve.where}${curve.sum_db ? ", first section alone" : ""}` }, ...measuredLines(data, "level", (size) => 20 * Math.log10(size / REFERENCE_PA)),
    ];
    charts.push(new Chart(find("#exit"), axis, {
      label: `level ${curve.where}, dB re 20 µPa at ${digits(data.around.motor.voltage)} V`, height: 310, numbered: true, low: top - 60, high: top, lines, drag, bands: curve.bands, marks: curve.marks,
      read: () => [{ value: found && loudest(found) ? levelOf(loudest(found)) : NaN }],
    }));
  }
  if (curve.impedance) {
    const value = sizes(curve.impedance, 1), low = Math.min(...value), high = Math.max(...value);
    charts.push(new Chart(find("#impedance"), axis, {
      label: "impedance at the terminals, Ω", height: 160, numbered: true, log: true, low: low / 1.2, high: high * 1.2,
      lines: [{ hz, value, name: "predicted" }, ...measuredLines(data, "impedance", (size) => size)], drag, read: () => [{ value: found?.impedance ? c.size(found.impedance) : NaN }],
    }));
  }
  const gap = model.around.gap, along = gap?.shapes && find("#gap") ? new AlongGap(find("#gap"), gap) : null;
  return {
    charts, hz, level: curve.level_db ?? [],
    show(now) {
      found = now;
      const told = [`${showArea(c.size(now.total))} with everything on`];
      if (loudest(now)) told.push(`${showLevel(levelOf(loudest(now)))} ${curve.where}`);
      if (now.impedance) told.push(`${digits(c.size(now.impedance))} Ω, ${showDegrees(c.angle(now.impedance))}`);
      if (now.excursion) told.push(`the coil moves ${showLength(Math.SQRT2 * c.size(now.excursion))} (peak)`);
      if (now.rear) told.push(`${digits(c.size(now.rear))} Pa in the rear chamber`);
      find("#driver-words").textContent = withUnits(`${showHz(now.hz)}: ${told.join("; ")}.`);
      if (now.pressure) along?.show(now.pressure.along);
    },
  };
}

/** The pressure whose level stands for all: at the exit, or on the axis before a baffle. */
const loudest = (found) => found.pressure?.exit ?? found.axis;

const showLength = (metres) => (metres >= 1e-3 ? `${digits(metres * 1e3)} mm` : metres >= 1e-6 ? `${digits(metres * 1e6)} µm` : `${digits(metres * 1e9)} nm`);

function rowsOf(table) {
  const [rows, width] = table.shape;
  return Array.from({ length: rows }, (_, k) => table.subarray(k * width, (k + 1) * width));
}

/** Pressure in dB along the gap from its inner to its outer end, the slots marked. */
class AlongGap {
  constructor(host, gap) {
    Object.assign(this, { host, gap });
    this.svg = draw("svg", { class: "chart", role: "img", "aria-label": "pressure along the gap" });
    host.append(this.svg);
    redraws.push(() => this.render());
    this.render();
  }
  render() {
    const width = Math.max(this.host.clientWidth, 200), height = 166, { place, slot_place: slots } = this.gap;
    const long = place[place.length - 1];
    this.x = (s) => LEFT + (s / long) * (width - LEFT - RIGHT);
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.svg.replaceChildren(draw("text", { class: "title", x: 2, y: 12 }, "pressure along the gap, dB re 20 µPa"));
    for (const mm of niceTicks(0, long * 1e3, width < 420 ? 4 : 7)) {
      this.svg.append(draw("text", { class: "tick", x: this.x(mm / 1e3), y: 149, "text-anchor": "middle" }, `${mm}`));
    }
    this.svg.append(draw("text", { class: "tick", x: width - RIGHT, y: 163, "text-anchor": "end" }, "mm from its inner end"));
    slots.forEach((s, k) => this.svg.append(
      draw("rect", { class: "slot", x: this.x(s) - 3, y: 22, width: 6, height: 114 }, draw("title", {}, `slot ${k + 1}`)),
      draw("text", { class: "tick", x: this.x(s) + 6, y: 32 }, `slot ${k + 1}`)));
    this.scale = draw("g");
    this.line = draw("path", { class: "line" });
    this.svg.append(this.scale, this.line);
    this.width = width;
    if (this.along) this.show(this.along);
  }
  show(along) {
    this.along = along;
    const level = along.map(levelOf), top = Math.ceil((Math.max(...level) + 2) / 10) * 10, low = top - 40;
    const y = (value) => 136 - ((value - low) / 40) * 114;
    this.svg.setAttribute("aria-label", `pressure along the gap: ${showLevel(Math.min(...level))} to ${showLevel(Math.max(...level))} re 20 µPa`);
    this.scale.replaceChildren();
    for (const value of [low, low + 10, low + 20, low + 30, top]) {
      this.scale.append(draw("line", { class: "grid", x1: LEFT, x2: this.width - RIGHT, y1: y(value), y2: y(value) }),
        draw("text", { class: "tick", x: LEFT - 5, y: y(value) + 3.5, "text-anchor": "end" }, `${value}`));
    }
    this.line.setAttribute("d", level.map((value, k) => `${k ? "L" : "M"}${this.x(this.gap.place[k]).toFixed(1)} ${y(Math.max(value, low)).toFixed(1)}`).join(""));
  }
}
