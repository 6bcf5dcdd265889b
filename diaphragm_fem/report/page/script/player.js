// Time: the phase runs while it plays, and frames are drawn only then.

class Player {
  constructor(state, frame) {
    Object.assign(this, { state, frame, last: null });
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    state.set({ playing: !still });
    state.on(["playing"], () => this.run());
    document.addEventListener("visibilitychange", () => this.run());
    addEventListener("beforeprint", () => { // paper shows every page at the same moment
      state.values.playing = false;
      state.values.phase = 0;
      frame();
    });
  }
  run() {
    if (this.waiting || !this.state.get("playing") || document.hidden) return;
    this.last = null;
    this.waiting = requestAnimationFrame((now) => this.step(now));
  }
  step(now) {
    this.waiting = null;
    if (!this.state.get("playing") || document.hidden) return;
    if (this.last !== null) {
      const turn = (2 * Math.PI * Math.min(now - this.last, 100)) / 1700;
      this.state.values.phase = (this.state.values.phase + turn) % (2 * Math.PI);
      this.frame();
    }
    this.last = now;
    this.waiting = requestAnimationFrame((next) => this.step(next));
  }
}

/** The controls beside a moving section: play, phase, how far it is exaggerated. */
function wirePlayer(state) {
  const phase = find("#phase"), far = find("#exaggeration");
  wirePlay(find("#play"), state);
  phase.addEventListener("input", () => state.set({ playing: false, phase: (Number(phase.value) * Math.PI) / 180 }));
  far.addEventListener("input", () => state.set({ exaggeration: Number(far.value) }));
}

/** The button that plays and pauses. */
function wirePlay(play, state) {
  play.addEventListener("click", () => state.set({ playing: !state.get("playing") }));
  const label = () => {
    play.textContent = state.get("playing") ? "pause" : "play";
    play.setAttribute("aria-pressed", state.get("playing"));
  };
  state.on(["playing"], label);
  label();
}

/** The slider of frequency, the field beside it, and the keys that move both. */
function wireFrequency(state, axis, model, stops) {
  const slider = find("#frequency"), field = find("#hertz"), steps = Number(slider.max);
  const set = (hz) => state.set({ hz: clamp(hz, model.fromHz, model.upToHz) });
  slider.addEventListener("input", () => set(axis.low * (axis.high / axis.low) ** (slider.value / steps)));
  field.addEventListener("change", () => {
    const hz = readHz(field.value), bad = !Number.isFinite(hz);
    field.setCustomValidity(bad ? "a frequency, such as 640 or 6 kHz" : "");
    if (bad) field.reportValidity();
    else set(hz);
  });
  const next = (way) => {
    const now = state.get("hz"), beyond = stops().filter((hz) => (way > 0 ? hz > now * 1.0005 : hz < now / 1.0005));
    if (beyond.length) set(way > 0 ? Math.min(...beyond) : Math.max(...beyond));
  };
  find("#next")?.addEventListener("click", () => next(1));
  find("#previous")?.addEventListener("click", () => next(-1));
  addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || /^(INPUT|TEXTAREA|SELECT)$/.test(event.target.tagName)) return;
    const octaves = { ArrowRight: 1 / 48, ArrowLeft: -1 / 48, PageUp: 1 / 3, PageDown: -1 / 3 }[event.key];
    if (octaves) set(state.get("hz") * 2 ** (octaves * (event.shiftKey ? 8 : 1)));
    else if (event.key === ".") next(1);
    else if (event.key === ",") next(-1);
    else if (event.key === " " && event.target.tagName !== "BUTTON") state.set({ playing: !state.get("playing") });
    else return;
    event.preventDefault();
  });
  const show = () => {
    slider.value = Math.round(steps * axis.share(state.get("hz")));
    slider.setAttribute("aria-valuetext", showHz(state.get("hz")));
    if (document.activeElement !== field || slider.matches(":active")) field.value = showHz(state.get("hz"));
  };
  field.addEventListener("change", () => { if (field.validity.valid) field.value = showHz(state.get("hz")); });
  state.on(["hz"], show);
  show();
}
