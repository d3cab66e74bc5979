// What this browser keeps of a pack, by the pack's own key; what it reads back is taken for anybody's text.
const VERSION = 1;
const MOST_NUMBER = 9999; // in a take's score
const MOST_LOOPS = 12, MOST_REST = 40, LONGEST_NAME = 40, MOST_TEMPO = 800, MOST_MINUTES = 1440;
export const MOST_TAKES = 8; // of a line on a day
const DAY = /^\d{4}-\d{2}-\d{2}$/;

const isThing = (value) => typeof value === "object" && value !== null && !Array.isArray(value);
const thing = (value) => (isThing(value) ? value : {});
const number = (value, low, high, otherwise) => (Number.isFinite(value) && value >= low && value <= high ? value : otherwise);
const flag = (value, otherwise) => (typeof value === "boolean" ? value : otherwise);
const kind = (value, kinds, otherwise) => (kinds.includes(value) ? value : otherwise);

// A loop as [first bar, last bar] from 0 within so many bars; nothing for what is none.
function loopOf(value, bars) {
  if (!Array.isArray(value) || value.length !== 2 || !value.every(Number.isInteger)) return null;
  const [first, last] = value;
  return first >= 0 && first <= last && last < bars ? [first, last] : null;
}

function loopsOf(value, bars) {
  const found = (Array.isArray(value) ? value : []).map(thing)
    .map((one) => ({ name: String(one.name ?? "").slice(0, LONGEST_NAME), bars: loopOf(one.bars, bars) }));
  return found.filter((one) => one.name && one.bars).slice(0, MOST_LOOPS);
}

function drillOf(value, line) {
  const read = thing(value), bars = Math.round(line.length / line.bar);
  const ticks = Array.isArray(read.ticks) ? read.ticks : [];
  return {
    tempo: number(read.tempo, 1, MOST_TEMPO, Math.round(line.tempo)),
    place: number(read.place, 0, line.length, 0),
    loop: loopOf(read.loop, bars), last: loopOf(read.last, bars), loops: loopsOf(read.loops, bars),
    step: Math.round(number(read.step, 0, line.plan.length - 1, 0)), fails: Math.round(number(read.fails, 0, 2, 0)),
    ticks: line.plan.map((_, index) => Math.round(number(ticks[index], 0, 2, 0))),
    rise: number(read.rise, 0, 20, 0), after: number(read.after, 1, 9, 1),
    goal: number(read.goal, 1, MOST_TEMPO, Math.round(line.tempo)),
  };
}

// What is kept of drills that an earlier or later version of the lesson has: unread, and not without end.
function restOf(drills) {
  return Object.fromEntries(Object.entries(drills).filter(([, one]) => isThing(one)).slice(-MOST_REST));
}

function daysOf(value) {
  const found = {};
  for (const [day, lines] of Object.entries(thing(value))) {
    if (!DAY.test(day)) continue;
    for (const [key, one] of Object.entries(thing(lines))) {
      const minutes = number(thing(one).minutes, 0, MOST_MINUTES, 0), best = number(thing(one).best, 0, MOST_TEMPO, 0);
      const takes = takesOf(thing(one).takes);
      if (minutes || best || takes.length) (found[day] ??= {})[key] = { minutes, best, ...(takes.length ? { takes } : {}) };
    }
  }
  return found;
}

// [tempo, notes that were right, notes, deviation in ms] …
function takesOf(value) {
  const whole = (one, high) => Number.isInteger(one) && one >= 0 && one <= high;
  const isTake = (one) => Array.isArray(one) && one.length === 4 && one.every((each) => whole(each, MOST_NUMBER)) && one[1] <= one[2];
  return (Array.isArray(value) ? value : []).filter(isTake).slice(-MOST_TAKES);
}

function ticksOf(value) {
  return Object.fromEntries(Object.entries(thing(value)).filter(([, on]) => typeof on === "boolean"));
}

function wholeOf(value, { lines, parts, left, large }) {
  const read = thing(value), look = thing(read.look), levels = thing(read.levels), drills = thing(read.drills);
  return {
    line: kind(read.line, lines.map((line) => line.key), lines[0].key),
    drills: { ...restOf(drills), ...Object.fromEntries(lines.map((line) => [line.key, drillOf(drills[line.key], line)])) },
    levels: Object.fromEntries(parts.map((part) => [part, {
      on: flag(thing(levels[part]).on, true), volume: number(thing(levels[part]).volume, 0, 100, 100) }])),
    alone: kind(read.alone, parts, ""), volume: number(read.volume, 0, 100, 60),
    count: number(read.count, 0, 4, 1), clicks: number(read.clicks, 1, 4, 1),
    look: {
      theme: kind(look.theme, ["auto", "light", "dark"], "auto"), large: flag(look.large, large),
      left: flag(look.left, left), names: flag(look.names, false), keys: flag(look.keys, true),
      awake: flag(look.awake, true),
    },
    ticks: ticksOf(read.ticks), days: daysOf(read.days), delay: number(read.delay, -500, 500, null),
  };
}

// `about`: {pack, lines, parts, left, large}. `kept` is what is kept; `keep()` writes it, false where this browser keeps nothing.
export function createStore(about) {
  const name = `vampbook:pack:${about.pack}`;

  function stored() {
    try { return JSON.parse(localStorage.getItem(name)); } catch { return null; }
  }

  const kept = wholeOf(stored(), about);

  function keep() {
    try { localStorage.setItem(name, JSON.stringify({ version: VERSION, ...kept })); return true; } catch { return false; }
  }

  // Another browser's file of the same pack: its days and ticks are added to ours, nothing is lost; false for any other.
  function read(text) {
    let found = null;
    try { found = thing(JSON.parse(text)); } catch { return false; }
    if (found.vampbook !== about.pack) return false;
    const theirs = wholeOf(found, about);
    for (const [day, lines] of Object.entries(theirs.days)) kept.days[day] = joined(kept.days[day], lines);
    for (const [key, on] of Object.entries(theirs.ticks)) kept.ticks[key] ||= on;
    const lines = about.lines.map((line) => line.key);
    for (const [key, one] of Object.entries(theirs.drills)) {
      const ours = kept.drills[key];
      if (!lines.includes(key)) continue;
      ours.ticks = ours.ticks.map((count, index) => Math.max(count, one.ticks[index]));
      const names = ours.loops.map((loop) => loop.name);
      ours.loops = [...ours.loops, ...one.loops.filter((loop) => !names.includes(loop.name))].slice(0, MOST_LOOPS);
    }
    keep();
    return true;
  }

  const text = () => JSON.stringify({ vampbook: about.pack, version: VERSION, title: about.title, ...kept }, null, 1);
  return { kept, keep, read, text, drill: (line) => kept.drills[line.key] };
}

function joined(ours = {}, theirs = {}) {
  const found = { ...ours };
  for (const [key, { minutes, best, takes = [] }] of Object.entries(theirs)) {
    const mine = found[key] ?? { minutes: 0, best: 0 }, all = [...mine.takes ?? [], ...takes].map((one) => JSON.stringify(one));
    const both = [...new Set(all)].map((one) => JSON.parse(one)).slice(-MOST_TAKES);
    found[key] = { minutes: Math.max(mine.minutes, minutes), best: Math.max(mine.best, best), ...(both.length ? { takes: both } : {}) };
  }
  return found;
}

export const today = () => dayOf(new Date());

export function dayOf(date) { // in the reader's own time zone
  const two = (value) => String(value).padStart(2, "0");
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}`;
}
