// The page of one design: one frequency for everything that can be seen at it.

function openDesign(data) {
  const model = data.model ? new Model(data.model, data.around) : null;
  if (model) openBench(data, model);
  if (data.modes && Object.keys(data.modes).length) openModes(data);
}

function openBench(data, model) {
  const { curve, zones } = data, hz = curve.hz, total = split(curve.total), response = curve.response_db;
  const axis = new Axis(roundBelow(Math.max(model.fromHz, data.start_hz)), model.upToHz);
  const state = new State({ hz: data.around?.look_hz ?? data.look_hz, phase: 0, exaggeration: 1, playing: false, loaded: Boolean(data.around) });
  const drag = (at) => state.set({ hz: at });
  const size = Float64Array.from(hz, (_, k) => 1e4 * Math.hypot(total.re[k], total.im[k]));
  let found = null, motion = null;

  const top = levelTop(hz, response, axis.low);
  const charts = [
    new Chart(find("#response"), axis, {
      label: "response per newton against its plateau, dB", height: 190, low: Math.min(top - 40, -15), high: top,
      lines: [], drag, read: () => [{ value: found && levelOfResponse() }],
    }),
    new Chart(find("#area"), axis, {
      label: "effective area |S|, cm²", height: 210, log: true, numbered: true, ...areaRange(size, data.low_area_m2 * 1e4),
      lines: [], drag, read: () => [{ value: found && 1e4 * c.size(found.total) }],
    }),
  ];
  const levelOfResponse = () => 20 * Math.log10(c.size(found.response) / data.plateau);
  const radiating = zones.map((zone, z) => z).filter((z) => model.zoneArea[z]);
  const strips = new Strips(find("#strips"), axis, radiating.map((z) => zones[z]), drag);
  const section = new Section(find("#section"), { surface: model.surface, zones, edges: data.edges, glue: data.glue });
  const around = model.around ? openDriver(data, model, axis, drag) : null;
  if (around) charts.push(...around.charts);

  const beside = data.measured ? openMeasured(data, axis, drag) : null;

  const look = () => { // with everything on, or in vacuum
    const loaded = state.get("loaded"), seen = loaded ? data.around : { ...data, share: curve.share };
    const at = loaded ? seen.curve.frequency_hz : hz, band = loaded ? seen.curve.bands?.[0] : seen.band;
    charts[0].take({ lines: responseLines(data, hz, response, loaded), marks: seen.marks, bands: band ? [band] : [] });
    charts[1].take({ lines: areaLines(data, hz, size, loaded), marks: seen.marks.map((mark) => ({ ...mark, words: "" })) });
    strips.take(at, radiating.map((z) => seen.share.subarray(z * at.length, (z + 1) * at.length)));
    const shaded = loaded ? `band of the ${band?.words}` : `${band?.words}${data.around ? ", in vacuum" : ""}`;
    find("#shaded").textContent = band ? withUnits(`Shaded: ${shaded}. `) : "";
  };
  const solve = () => {
    found = model.solve(state.get("hz"), state.get("loaded"));
    motion = model.motion(found);
    const swept = model.sweptInTotal(motion);
    find("#moves").textContent = withUnits(whatMoves(found, zones, swept));
    section.tell(find("#moves").textContent);
    find("#level").textContent = showDb(levelOfResponse());
    find("#size").textContent = showArea(c.size(found.total));
    find("#angle").textContent = showDegrees(c.angle(found.total));
    if (around) around.show(state.get("loaded") ? found : model.solve(state.get("hz"), true));
    beside?.show(state.get("hz"));
    for (const chart of charts) chart.cursor(state.get("hz"));
    strips.cursor(state.get("hz"), radiating.map((z) => found.share[z]));
    frame();
  };
  const frame = () => {
    section.show(motion, state.get("phase"), state.get("exaggeration"));
    find("#phase").value = Math.round((state.get("phase") * 180) / Math.PI);
  };
  wirePlayer(state);
  wireFrequency(state, axis, model, () => extremes(hz, response).concat(around ? extremes(around.hz, around.level) : []));
  find("#loaded")?.addEventListener("change", (event) => state.set({ loaded: event.target.checked }));
  const player = new Player(state, frame);
  state.on(["loaded"], look);
  state.on(["hz", "loaded"], solve);
  state.on(["phase", "exaggeration"], frame);
  look();
  solve();
  player.run();
  window.bench = { model, state, section, solve, beside, motion: () => motion, found: () => found, axis };
}

function responseLines(data, hz, response, loaded) {
  const against = (size) => 20 * Math.log10(size / data.plateau), around = data.around?.curve;
  const driver = around && { hz: around.frequency_hz, value: Float64Array.from(around.response, against) };
  return [...bothStates({ hz, value: response, name: "in vacuum" }, driver, loaded), ...measuredLines(data, "response", against)];
}

/** A line in vacuum, and that in its driver where there is one: what is looked at drawn out, the other dashed. */
const bothStates = (alone, driver, loaded) => (driver
  ? [{ ...alone, look: loaded ? "second" : "" }, { ...driver, look: loaded ? "" : "second", name: "in its driver" }] : [alone]);

function areaLines(data, hz, size, loaded) {
  const lines = [];
  if (data.curve.swept && !loaded) {
    lines.push({ hz, value: Float64Array.from(data.curve.swept, (area) => 1e4 * area), look: "thin", name: "swept in total" });
  }
  const driver = data.around && { hz: data.around.curve.frequency_hz, value: sizes(data.around.curve.area, 1e4) };
  return [...lines, ...bothStates({ hz, value: size, name: "effective, in vacuum" }, driver, loaded),
    ...measuredLines(data, "area", (size) => 1e4 * size)];
}

function openModes(data) {
  const list = data.mode_list, surface = data.surface, view = new Revolved(find("#solid"), data.zones);
  const state = new State({ mode: 0, phase: 0, playing: false, exaggeration: 1 });
  const ladder = new Ladder(find("#ladder"), new Axis(roundBelow(Math.min(...list.map((mode) => mode.hz))), data.up_to_hz), data.zones, list,
    (mode) => state.set({ mode }));
  const show = () => {
    const mode = list[state.get("mode")], held = data.modes[mode.m], points = held.point;
    const [, directions, count] = held.shape.shape;
    const part = (d) => held.shape.subarray((mode.k * directions + d) * count, (mode.k * directions + d + 1) * count);
    const at = (values) => Array.from(points, (p) => values[p]);
    view.take({
      r: at(surface.r), z: at(surface.z), zone: at(surface.zone), run: at(surface.run), m: mode.m,
      ur: part(0), uz: part(1), ut: directions > 2 ? part(2) : null,
    });
    ladder.mark(state.get("mode"));
    find("#mode-name").textContent = `m = ${mode.m}, mode ${mode.k + 1}: ${showHz(mode.hz, 4)}`;
    find("#mode-words").textContent = mode.words;
    view.canvas.setAttribute("aria-label", `${find("#mode-name").textContent}, ${mode.words}, in the round; drag or arrow keys turn it`);
  };
  wirePlay(find("#play-mode"), state);
  const step = (by) => state.set({ mode: clamp(state.get("mode") + by, 0, list.length - 1) });
  find("#mode-next").addEventListener("click", () => step(1));
  find("#mode-previous").addEventListener("click", () => step(-1));
  find("#mode-far").addEventListener("input", (event) => { view.exaggeration = Number(event.target.value); view.render(); });
  state.on(["mode"], show);
  ladder.render();
  show();
  let seen = true; // no frames for what is scrolled away
  new IntersectionObserver((entries) => (seen = entries.at(-1).isIntersecting)).observe(view.canvas);
  const player = new Player(state, () => {
    view.phase = state.get("phase");
    if (seen || onPaper()) view.render();
  });
  player.run();
  window.modes = { view, state, list };
}
