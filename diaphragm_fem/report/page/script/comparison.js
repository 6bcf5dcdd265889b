// The page of a comparison: one frequency moves every section and reads every curve.

function openComparison(data) {
  const driven = data.designs.map((design, d) => ({ ...design, d })).filter((design) => design.curve);
  if (data.moving.length > 1) openSides(data, driven);
  new Profiles(find("#profiles"), data.designs, data.baseline);
  if (Object.keys(data.tracks).length) openSlopes(data);
}

function openSides(data, driven) {
  const base = data.designs[data.baseline], shown = data.moving.map((d) => ({ ...data.designs[d], d, model: new Model(data.designs[d].model) }));
  const lowest = Math.max(...shown.map(({ model }) => model.fromHz)), start = Math.min(...driven.map((one) => one.start_hz));
  const axis = new Axis(roundBelow(Math.max(lowest, start)), data.up_to_hz);
  const state = new State({ hz: base.look_hz ?? 1000, phase: 0, exaggeration: 1, playing: false }), drag = (hz) => state.set({ hz });
  const reference = base.plateau ?? shown[0].plateau, found = new Map();
  const own = (design) => 20 * Math.log10(design.plateau / reference);
  const level = (design) => 20 * Math.log10(c.size(found.get(design.d).response) / reference);
  const read = (value) => () => shown.filter(({ d }) => found.has(d)).map((design) => ({ value: value(design), look: lookOf(design.d) }));
  const lines = (value) => driven.map((design) => ({ hz: design.curve.hz, value: value(design), name: design.name, look: lookOf(design.d) }));

  const response = lines((design) => design.curve.response_db.map((db) => db + own(design)));
  const top = Math.max(...response.map((line) => levelTop(line.hz, line.value, axis.low)));
  const sizesOf = (design) => sizes(design.curve.total, 1e4);
  const apart = driven.filter((design) => design.difference);
  const widest = clamp(Math.max(3, ...apart.flatMap((design) => [...design.difference.db].map(Math.abs))), 3, 20);
  const charts = [
    new Chart(find("#response"), axis, {
      label: "response per newton in vacuum, dB to the baseline's plateau", height: 210, low: Math.min(top - 40, -15), high: top, drag, read: read(level),
      lines: [...response, ...measuredLines(data, "response", (size) => 20 * Math.log10(size / reference))],
    }),
    new Chart(find("#difference"), axis, {
      label: "difference to the baseline, dB", height: 180, numbered: true, low: -widest, high: widest, drag, alwaysNamed: true,
      lines: apart.map((design) => ({ hz: design.difference.hz, value: design.difference.db, name: design.name, look: lookOf(design.d) })),
      read: () => shown.filter(({ d }) => d !== data.baseline && found.size).map((design) => ({
        value: level(design) - level(shown.find(({ d }) => d === data.baseline) ?? shown[0]), look: lookOf(design.d),
      })),
    }),
    new Chart(find("#area"), axis, {
      label: "effective area |S| in vacuum, cm²", height: 210, numbered: true, log: true, drag,
      lines: [...lines(sizesOf), ...measuredLines(data, "area", (size) => 1e4 * size)],
      ...areaRange(driven.flatMap((design) => [...sizesOf(design)]), Math.min(...driven.map((one) => one.low_area_m2)) * 1e4),
      read: read((design) => 1e4 * c.size(found.get(design.d).total)),
    }),
  ];
  for (const design of shown) {
    design.section = new Section(find(`.section-host[data-design="${design.d}"]`), { surface: design.model.surface, zones: design.zones, edges: design.edges, glue: design.glue }, design.name);
    design.words = find(`.moves[data-design="${design.d}"]`);
  }
  const solve = () => {
    for (const design of shown) {
      const now = design.model.solve(clamp(state.get("hz"), design.model.fromHz, design.model.upToHz));
      found.set(design.d, now);
      design.motion = design.model.motion(now);
      design.words.textContent = withUnits(`${showDb(level(design))} against the baseline's plateau. ${whatMoves(now, design.zones, design.model.sweptInTotal(design.motion))}`);
      design.section.tell(design.words.textContent);
    }
    for (const chart of charts) chart.cursor(state.get("hz"));
    frame();
  };
  const frame = () => {
    for (const design of shown) design.section.show(design.motion, state.get("phase"), state.get("exaggeration"));
    find("#phase").value = Math.round((state.get("phase") * 180) / Math.PI);
  };
  wirePlayer(state);
  wireFrequency(state, axis, shown[0].model, () => driven.flatMap((design) => extremes(design.curve.hz, design.curve.response_db)));
  const player = new Player(state, frame);
  state.on(["hz"], solve);
  state.on(["phase", "exaggeration"], frame);
  solve();
  player.run();
  window.bench = { state, axis, shown, found: () => found.get(data.moving[0]), all: found };
}

function openSlopes(data) {
  const slopes = new Slopes(find("#slopes"), data.designs, []), host = find("#track-orders");
  const choose = (m) => {
    findAll("button", host).forEach((button) => button.setAttribute("aria-pressed", button.value === m));
    slopes.take(data.tracks[m]);
  };
  for (const m of Object.keys(data.tracks)) {
    const button = make("button", { type: "button", class: "choice", value: m }, orderWord(Number(m)));
    button.addEventListener("click", () => choose(m));
    host.append(button);
  }
  choose(Object.keys(data.tracks)[0]);
}
