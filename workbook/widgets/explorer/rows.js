// The arpeggios that are listed: filtered, sorted; and what is asked of one of them. No drawing here.
export const GROUPS = ["triad", "seventh", "sixth", "added ninth", "quartal", "pentatonic"];
export const REACHES = ["inside", "colour", "outside"];
const ORDER = {
  best: () => 0,
  name: (one, two) => one.step - two.step,
  kind: (one, two) => one.at - two.at,
  reach: (one, two) => REACHES.indexOf(one.reach) - REACHES.indexOf(two.reach),
  halves: (one, two) => two.halves - one.halves,
};

// The rows that the filters let through, in the order asked for; of equals the better first.
export function listed(view, state, { kinds, strings, hand }) {
  const at = new Map(kinds.map(({ kind }, index) => [kind, index]));
  const group = new Map(kinds.map((one) => [one.kind, one.group]));
  const known = knownBy(state.student);
  const tests = { half: (row) => row.halves > 0, here: (row) => fitsHand(row.pitches, strings, hand), known };
  const found = view.rows.filter((row) => (state.group === "all" || group.get(row.kind) === state.group)
    && state.only.every((name) => tests[name](row)));
  const counts = Object.fromEntries(REACHES.map((reach) => [reach, found.filter((row) => row.reach === reach).length]));
  const rows = found.filter((row) => state.reach === "all" || row.reach === state.reach)
    .map((row) => ({ ...row, at: at.get(row.kind) }));
  return { rows: rows.toSorted(ORDER[state.sort] ?? ORDER.best), counts, total: found.length };
}

// What a student knows, as typed: kinds ("m7, minor pentatonic") or arpeggios ("Em7").
function knownBy(text) {
  const words = new Set(text.split(",").map((word) => word.trim()).filter(Boolean));
  return (row) => words.has(row.text) || words.has(row.kind) || (row.kind === "" && words.has("major"));
}

// Does every note of an arpeggio lie under the four fingers, from the lowest to the highest that they reach?
export function fitsHand(pitches, strings, [low, high]) {
  const under = new Set(strings.flatMap(([, open]) => Array.from({ length: high - low + 1 }, (_, index) => open + low + index)));
  const [first, last] = [Math.min(...under), Math.max(...under)];
  for (let midi = first; midi <= last; midi += 1) if (pitches.includes(midi % 12) && !under.has(midi)) return false;
  return true;
}
