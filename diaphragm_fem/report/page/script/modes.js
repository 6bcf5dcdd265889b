// The ladder of modes: every mode at its order and frequency, a picker for the revolved view.

class Ladder {
  constructor(host, axis, zones, modes, choose) {
    Object.assign(this, { host, axis, zones, modes, choose });
    this.orders = [...new Set(modes.map((mode) => mode.m))];
    this.svg = draw("svg", {
      class: "ladder", tabindex: "0", role: "listbox", "aria-label": "modes by order and frequency; arrow keys choose",
    });
    host.append(this.svg);
    this.svg.addEventListener("pointerdown", (event) => this.pick(event));
    this.svg.addEventListener("keydown", (event) => this.key(event));
    redraws.push(() => this.render());
  }

  render() {
    const width = Math.max(this.host.clientWidth, 200), height = 340, top = 24, bottom = height - 10;
    const column = (width - LEFT - 8) / this.orders.length;
    this.y = (hz) => bottom - this.axis.share(hz) * (bottom - top);
    this.x = (m) => LEFT + this.orders.indexOf(m) * column;
    this.column = column;
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.svg.replaceChildren();
    for (const hz of this.axis.ticks()) {
      const y = this.y(hz);
      this.svg.append(draw("line", { class: "grid", x1: LEFT, x2: width - 8, y1: y, y2: y }),
        draw("text", { class: "tick", x: LEFT - 9, y: y + 3.5, "text-anchor": "end" }, showTick(hz)));
    }
    this.svg.append(draw("text", { class: "title", x: 2, y: 12 }, "Hz"));
    for (const m of this.orders) {
      this.svg.append(draw("text", { class: "tick", x: this.x(m) + column / 2 - 4, y: 13, "text-anchor": "middle" }, column > 60 ? orderWord(m) : `m ${m}`));
    }
    this.rungs = this.modes.map((mode, k) => {
      const y = this.y(mode.hz), x = this.x(mode.m);
      const words = `order ${mode.m}, ${showHz(mode.hz, 4)}, ${mode.label}`;
      const rung = draw("path", { class: `rung ${roleClass(this.zones[mode.zone])}`, d: `M${x + 3} ${y}H${x + column - 11}`,
        id: `mode-${k}`, role: "option", "aria-label": words },
        draw("title", {}, `${showHz(mode.hz, 4)}: ${mode.label}`));
      this.svg.append(rung);
      return rung;
    });
    this.tag = draw("g");
    this.svg.append(this.tag);
    if (this.chosen !== undefined) this.mark(this.chosen);
  }

  mark(index) {
    this.chosen = index;
    if (!this.rungs) return;
    this.rungs.forEach((rung, k) => {
      rung.classList.toggle("chosen", k === index);
      rung.setAttribute("aria-selected", k === index);
    });
    const mode = this.modes[index], x = this.x(mode.m), y = this.y(mode.hz);
    this.tag.replaceChildren(draw("path", { class: "pick", d: `M${x - 1} ${y}l-6 -4v8z` }));
    this.svg.setAttribute("aria-activedescendant", `mode-${index}`);
  }

  pick(event) {
    const box = this.svg.getBoundingClientRect(), x = event.clientX - box.left, y = event.clientY - box.top;
    const column = clamp(Math.floor((x - LEFT) / this.column), 0, this.orders.length - 1), m = this.orders[column];
    let best = -1, far = Infinity;
    this.modes.forEach((mode, k) => {
      const away = mode.m === m ? Math.abs(this.y(mode.hz) - y) : Infinity;
      if (away < far) [best, far] = [k, away];
    });
    if (best >= 0) this.choose(best);
  }

  key(event) {
    const now = this.modes[this.chosen], same = this.modes.map((mode, k) => [mode, k]).filter(([mode]) => mode.m === now.m);
    const place = same.findIndex(([, k]) => k === this.chosen);
    let next = null;
    if (event.key === "ArrowUp") next = same[Math.min(place + 1, same.length - 1)][1];
    if (event.key === "ArrowDown") next = same[Math.max(place - 1, 0)][1];
    if (event.key === "ArrowLeft" || event.key === "ArrowRight") {
      const m = this.orders[this.orders.indexOf(now.m) + (event.key === "ArrowRight" ? 1 : -1)];
      const there = this.modes.map((mode, k) => [Math.abs(Math.log(mode.hz / now.hz)), k]).filter(([, k]) => this.modes[k].m === m);
      if (there.length) next = there.reduce((one, other) => (other[0] < one[0] ? other : one))[1];
    }
    if (next === null) return;
    this.choose((this.chosen = next)); // at once: the next key may be quicker than a frame
    event.preventDefault();
    event.stopPropagation();
  }
}
