// A take in a teacher's words: what went well, then what to work on, as workbook/listen/measures.py and findings.py say it,
// by their own table of what is worth saying and of sentences (`tell`).
import { MISSING, OK, WRONG } from "./heard_take.js";
import { deviation, mean, median } from "./rows.js";

const SIGN = /\{(\w+)\}/g;
const FAR = 0.25; // of the line: notes as far apart say whether it drifts

const filled = (words, values) => words.replace(SIGN, (_, name) => values[name]);
const counted = (count, word) => `${count} ${word}${count === 1 ? "" : "s"}`;
const timing = (notes) => {
  const lates = notes.map(({ late }) => late);
  return { count: lates.length, mean: lates.length ? mean(lates) : 0, deviation: lates.length ? deviation(lates) : 0 };
};

// Positive is late; milliseconds.
export function measuresOf({ notes }, tell) {
  const found = notes.filter(({ late }) => late !== null), isOn = ({ note }) => note.beat % 1 < tell.near_beat;
  const on = found.filter(isOn), off = found.filter((one) => !isOn(one));
  const bars = [...new Set(found.map(({ note }) => note.bar))].toSorted((one, two) => one - two);
  return {
    of: (verdict) => notes.filter((one) => one.verdict === verdict), whole: timing(found),
    bars: bars.map((bar) => ({ bar, ...timing(found.filter(({ note }) => note.bar === bar)) })),
    swing: Math.min(on.length, off.length) >= tell.fewest_on_and_off ? timing(off).mean - timing(on).mean : 0,
    drift: driftOf(found, tell),
  };
}

// How much later the end comes than the beginning, by the median of all slopes (Theil and Sen).
function driftOf(found, { fewest_drift: fewest }) {
  if (found.length < fewest) return 0;
  const slopes = [], whole = found.at(-1).note.onset - found[0].note.onset;
  found.forEach((one, at) => {
    for (const two of found.slice(at + 1)) {
      const apart = two.note.onset - one.note.onset;
      if (apart > FAR * whole) slopes.push((two.late - one.late) / apart);
    }
  });
  return slopes.length ? median(slopes) * whole : 0;
}

// One sentence, always true of the take. Where it is not known what is missing, the notes that were heard are counted.
export function wentWell({ notes, bleeds }, { of, whole, bars }, { well, worth, fewest_timed: fewest }) {
  const right = of(OK).length, count = notes.length - (bleeds ? of(MISSING).length : 0), isTimed = whole.count >= fewest;
  const said = filled(right === notes.length ? well.all : well.some, { right, count });
  if (isTimed && whole.deviation <= worth.uneven) return `${said}${filled(well.even, { ms: whole.deviation.toFixed(0) })}.`;
  if (!isTimed || !bars.length) return `${said}.`;
  const best = bars.reduce((one, two) => (unsteady(two) < unsteady(one) ? two : one));
  return `${said}${filled(well.steadiest, { bar: best.bar + 1, ms: best.deviation.toFixed(0) })}.`;
}

const unsteady = ({ mean: late, deviation: spread }) => Math.abs(late) + spread;

// The weightiest first: {kind, bar (from 1, or null), words, weight}. `tempo` is what was played.
export function findingsOf(take, numbers, { tell, tempo }) {
  const found = [...ofNotes(take, numbers, tell), ...ofTime(take, numbers, tell)].map((one) => ({
    ...one, weight: one.size / tell.worth[one.kind], words: sentence(one, tempo, tell) }));
  const kept = [];
  for (const one of found.toSorted((first, second) => second.weight - first.weight)) if (!kept.some((other) => isSame(one, other))) kept.push(one);
  return kept.map(({ kind, bar, words, weight }) => ({ kind, bar, words, weight }));
}

const isEven = ({ kind }) => kind === "uneven" || kind === "bar";
const isSame = (one, other) => (isEven(other) || other.kind === one.kind) && isEven(other) === isEven(one) && other.bar === one.bar;

function sentence({ kind, bar, values }, tempo, { said, slower, slowest }) {
  const [words, toDo] = said[kind], practised = Math.max(slowest, 2 * Math.round(tempo * slower[kind] / 2));
  return `${bar === null ? "" : `Bar ${bar}: `}${filled(words, values)}. ${toDo}, at ♩ = ${practised}.`;
}

function ofNotes({ bleeds }, { of }, { weight, counted: words, names }) {
  const wrong = of(WRONG), missing = bleeds ? [] : of(MISSING), found = [];
  const named = (midi) => `${names[midi % 12]}${Math.floor(midi / 12) - 1}`;
  if (wrong.length) {
    const bar = most(wrong), here = wrong.filter(({ note }) => note.bar === bar);
    const heard = here.map((one) => `${named(one.heard)} for ${named(one.note.midi)}`).join(", ");
    found.push({ kind: WRONG, size: weight.wrong * wrong.length, bar: bar + 1, values: { count: counted(wrong.length, words.wrong), heard } });
  }
  if (missing.length) {
    const bar = most(missing), here = missing.filter(({ note }) => note.bar === bar).length;
    found.push({ kind: MISSING, size: weight.missing * missing.length, bar: bar + 1, values: { count: counted(missing.length, words.missing), here } });
  }
  return found;
}

function ofTime({ isCalibrated }, { whole, bars, swing, drift }, { worth, ways, fewest_timed: fewest, fewest_in_bar: inBar }) {
  if (whole.count < fewest) return [];
  const worst = bars.reduce((one, two) => (Math.abs(two.mean) > Math.abs(one.mean) ? two : one)), away = worst.mean - whole.mean;
  const told = [
    ["late", isCalibrated ? whole.mean : 0, null], ["uneven", whole.deviation, null],
    ["bar", worst.count >= inBar ? away : 0, worst.bar + 1], ["off-beats", swing, null], ["drift", drift, null],
  ];
  return told.filter(([kind, size]) => Math.abs(size) > worth[kind]).map(([kind, size, bar]) => (
    { kind, size: Math.abs(size), bar, values: { ms: Math.abs(size).toFixed(0), way: ways[kind]?.[size < 0 ? 1 : 0] } }));
}

function most(notes) { // the bar that holds the most of them, the earlier of two
  const bars = notes.map(({ note }) => note.bar), count = (bar) => bars.filter((one) => one === bar).length;
  return [...new Set(bars)].toSorted((one, two) => count(two) - count(one) || one - two)[0];
}
