// Which stroke of a take is which note of a line: one alignment by dynamic programming, as workbook/listen/aligning.py
// does it and by the same numbers (`by`). Notes and strokes keep their order.
import { median } from "./rows.js";

const AROUND = 9; // notes over which a player's slow drift is taken
const LEFT_OUT = 0, PAIRED = 1, MISSED = 2;
const BASE_SKIP = 0.1; // what any stroke left out costs

// Notes of one stroke together: [[note, …], …]. A note has `onset` in seconds.
export function groupsOf(notes, { strum_seconds: strum }) {
  const found = [];
  for (const note of notes) {
    const group = found.at(-1);
    if (group && note.onset - group[0].onset <= strum) group.push(note); else found.push([note]);
  }
  return found;
}

// `strokes`: the number of each group's stroke, or null; `cost`: of the whole. First freely, then around the player's drift.
export function aligned(groups, strikes, offset, by) {
  const times = groups.map(([note]) => note.onset + offset);
  const first = pairsOf(groups, times, strikes, by.wide_seconds, by), trend = trendOf(times, first.strokes, strikes);
  return pairsOf(groups, times.map((time, at) => time + trend[at]), strikes, by.narrow_seconds, by);
}

function trendOf(times, strokes, { seconds }) {
  const found = times.map((time, at) => [time, strokes[at] === null ? null : seconds[strokes[at]] - time]).filter(([, late]) => late !== null);
  if (found.length < 4) return times.map(() => (found.length ? median(found.map(([, late]) => late)) : 0));
  return times.map((time) => {
    const near = found.toSorted(([one], [two]) => Math.abs(one - time) - Math.abs(two - time)).slice(0, AROUND);
    return median(near.map(([, late]) => late));
  });
}

function pairsOf(groups, times, strikes, deviation, by) {
  const count = strikes.seconds.length, skips = new Float64Array(count + 1), far = by.farthest_seconds;
  strikes.seconds.forEach((second, at) => {
    const inside = second > times[0] - far && second < times.at(-1) + far;
    skips[at + 1] = skips[at] + (inside ? BASE_SKIP + by.extra * strikes.strength[at] : 0);
  });
  let cost = skips;
  const steps = groups.map((group, number) => {
    const pairs = pairCosts(group, times[number], strikes, deviation, by), taken = new Uint8Array(count + 1), along = new Float64Array(count + 1);
    let least = Infinity;
    for (let at = 0; at <= count; at += 1) {
      const paired = at ? cost[at - 1] + pairs[at - 1] : Infinity, missed = cost[at] + by.missed, here = Math.min(paired, missed);
      least = Math.min(least, here - skips[at]);
      along[at] = skips[at] + least;
      taken[at] = along[at] < here - 1e-12 ? LEFT_OUT : paired <= missed ? PAIRED : MISSED;
    }
    cost = along;
    return taken;
  });
  return { strokes: walked(steps, count), cost: cost[count] };
}

function walked(steps, count) {
  const found = steps.map(() => null);
  let number = steps.length - 1, stroke = count;
  while (number >= 0) {
    const step = steps[number][stroke];
    if (step === LEFT_OUT && stroke > 0) { stroke -= 1; continue; }
    if (step === PAIRED) { found[number] = stroke - 1; stroke -= 1; }
    number -= 1;
  }
  return found;
}

function pairCosts(group, time, { seconds, strength, salience }, deviation, by) {
  const shareOf = (note, stroke) => (note.pitched ? salience[stroke][note.wanted - by.lowest] ?? 0 : 1);
  return seconds.map((second, stroke) => {
    const off = second - time;
    if (Math.abs(off) >= by.farthest_seconds) return Infinity;
    const share = group.reduce((sum, note) => sum + shareOf(note, stroke), 0) / group.length;
    const weak = (group[0].struck ? by.weak : by.soft) * (1 - strength[stroke]);
    return 0.5 * (off / deviation) ** 2 + by.pitch * (1 - share) + weak;
  });
}
