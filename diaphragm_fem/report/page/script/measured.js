// Measured curves beside what the page solves: lines in its charts, and how far they lie apart at the cursor.

/** Lines of a measured quantity for a chart, its sizes turned into the chart's values; `name` where there is one alone. */
function measuredLines(data, quantity, value) {
  const own = (data.measured ?? []).filter((curve) => curve.quantity === quantity);
  return own.map((curve, k) => ({
    hz: curve.hz, value: Float64Array.from(curve.size, value), look: k ? `measured again-${(k - 1) % 3}` : "measured", name: own.length > 1 ? `measured ${k + 1}` : "measured",
  }));
}

/** A value over rising frequencies, by a straight line over log f; NaN beyond the ends. */
function between(hz, values, at) {
  if (!(at * 1.000001 >= hz[0] && at <= hz[hz.length - 1] * 1.000001)) return NaN; // written in 32 bits
  let [low, high] = [0, hz.length - 1];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (hz[middle] <= at) low = middle;
    else high = middle;
  }
  const share = Math.log(at / hz[low]) / Math.log(hz[high] / hz[low]);
  return values[low] + share * (values[high] - values[low]);
}

/** The deviations of all curves in one chart; show(hz) tells what its lines are at the cursor. */
function openMeasured(data, axis, drag) {
  const curves = data.measured, most = Math.max(3, ...curves.map((curve) => ninth(curve.apart_db)));
  let apart = [];
  const chart = new Chart(find("#apart"), axis, {
    label: "measured over predicted, dB", height: 200, numbered: true, low: -most, high: most, drag, alwaysNamed: true,
    lines: curves.map((curve, k) => ({ hz: curve.hz, value: curve.apart_db, name: curve.title, look: lookOf(k + 1) })),
    read: () => apart.map((value, k) => ({ value, look: lookOf(k + 1) })),
  });
  const show = (hz) => {
    apart = curves.map((curve) => between(curve.hz, curve.apart_db, hz));
    const told = curves.map(({ title }, k) => `${title} ${showDb(apart[k])}`).filter((_, k) => Number.isFinite(apart[k]));
    const at = showHz(hz);
    find("#apart-words").textContent = withUnits(told.length ? `Measured over predicted at ${at}: ${told.join("; ")}.` : `Nothing was measured at ${at}.`);
    chart.cursor(hz);
  };
  return { show, apart: () => apart };
}

/** The size that nine tenths of the values stay below, at most 20, with room above it. */
function ninth(values) {
  const sizes = [...values].map(Math.abs).sort((a, b) => a - b);
  return Math.min(1.6 * sizes[Math.floor(0.9 * (sizes.length - 1))], 20);
}
