// "What moves at 6.00 kHz": the motion of one frequency in a sentence.

const RIDES_ALL = [Math.SQRT1_2, Math.SQRT2]; // within 3 dB of the coil

const GROUPS = [
  ["Against the coil", ["against"]], ["A quarter turn off", ["lags", "leads"]], ["Still", ["still"]],
  ["With the coil", ["rides"]], ["Farther than the coil", ["swings"]],
];

function whatMoves(found, zones, swept) {
  const told = zones.map((zone, z) => ({ name: zone.name, q: found.share[z] })).filter(({ q }) => q);
  const at = `At ${showHz(found.hz)}`, size = ({ q }) => c.size(q);
  const whole = `The whole sweeps ${showArea(c.size(found.total))}${cancelled(found, swept)}.`;
  if (!told.length) return `${at} the coil moves.`;
  const riding = ({ q }) => size({ q }) >= RIDES_ALL[0] && size({ q }) <= RIDES_ALL[1] && Math.abs(c.angle(q)) < Math.PI / 4;
  const driven = told.filter(({ name }) => !name.endsWith("surround"));
  if (driven.every(riding)) return `${at} everything rides with the coil. ${whole}`;
  const most = told.reduce((one, other) => (size(other) > size(one) ? other : one));
  const rest = told.filter((one) => one !== most), words = [];
  const times = size(most) > 20 ? "and the coil hardly at all" : `${digits(size(most))} times the coil${phaseWords(most.q)}`;
  words.push(`${at} the ${most.name} moves most, ${times}.`);
  const list = (some) => (some.length === rest.length && some.length > 1 ? "all others" : joinWords(some.map(({ name }) => name)));
  for (const [begin, kinds] of GROUPS) {
    const some = rest.filter(({ q }) => kinds.includes(shareWord(q)));
    if (some.length) words.push(`${begin}: ${list(some)}.`);
  }
  words.push(whole);
  return words.join(" ");
}

function phaseWords(q) {
  const angle = Math.round((c.angle(q) * 180) / Math.PI);
  if (Math.abs(angle) < 5) return "";
  if (Math.abs(angle) > 175) return ", opposite to it";
  return angle < 0 ? `, ${-angle}° behind it` : `, ${angle}° ahead of it`;
}

function cancelled(found, swept) {
  if (!swept) return "";
  const lost = 1 - c.size(found.total) / swept;
  return lost > 0.005 ? `; ${digits(100 * lost, 2)} % of the motion cancels` : "";
}
