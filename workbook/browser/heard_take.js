// A take held against a line in the browser, as workbook/listen/take.py does it: notes early or late, wrong or missing.
// What a device delays is not known, so that only differences are told, unless it was measured.
import { aligned, groupsOf } from "./aligning.js";
import { bounded } from "./numbers.js";
import { atRate, gaussian, mean, median } from "./rows.js";
import { fluxOf, strikesOf } from "./strikes.js";

export const OK = "ok";
export const WRONG = "wrong";
export const MISSING = "missing";
const DEVICE = [-0.05, 0.5]; // seconds by which a device may record late
const ASTRAY = [-3, 3], FEW = 0.8, BETTER = 0.6; // seconds by which a player may come in wrong; a share of notes, of a cost
const FOUND = 0.3; // of the notes right: with fewer it is no take of this line
const SOFT_SECONDS = 0.012; // by which the flux is smoothed to find where the line lies
const NEARLY = 0.7, TRIED = 24; // places nearly as good as the best, of which so many are tried
const EDGE = 0.05, RING = 0.5; // seconds before the first and after the last note in which a stroke counts

// `notes` are the line's in order: {index, onset, length (in seconds from its first beat), wanted (MIDI), struck,
// pitched, moving (bent or shaken), bar, beat}; `first` the second of the take at which the line begins; `delay` the
// seconds by which the device is known to be late, or null; `rest` lets the page live between two steps.
// null where the take is not the line's. Where the whole came in earlier or later than the line, `astray` are the seconds.
export async function hearTake({ samples, rate, first, delay = null, notes, by, rest = () => {} }) {
  const heard = atRate(samples, rate, by.rate);
  await rest();
  const flux = fluxOf(heard, by);
  await rest();
  const strikes = strikesOf(heard, flux, by), groups = groupsOf(notes, by);
  await rest();
  const bestOf = (places) => places.map((place) => ({ place, ...aligned(groups, strikes, place, by) }))
    .reduce((one, two) => (two.cost < one.cost ? two : one));
  const best = bestOf(delay === null ? likely(groups, flux, { first, range: DEVICE, by }) : [first + delay]);
  const take = told(groups, strikes, best, { delay, by });
  if (shareRight(take) >= FEW) return take;
  await rest();
  const other = bestOf(likely(groups, flux, { first, range: ASTRAY, by })), found = told(groups, strikes, other, { delay: null, by });
  const isOther = other.cost <= BETTER * best.cost, shown = isOther ? found : take;
  if (shareRight(shown) < FOUND) return null;
  return isOther ? { ...found, astray: found.begins - first - (delay ?? 0) } : take;
}

const shareRight = (take) => (take ? take.notes.filter(({ verdict }) => verdict === OK).length / take.notes.length : 0);

// Where the line may lie in the take: where its strokes meet the most of what begins.
function likely(groups, flux, { first, range: [earliest, latest], by }) {
  const frames = by.rate / by.hop, soft = gaussian(flux, SOFT_SECONDS * frames);
  const struck = groups.filter(([note]) => note.struck), onsets = (struck.length ? struck : groups).map(([note]) => note.onset);
  const count = Math.round((latest - earliest) * frames), sums = new Float64Array(count);
  for (let step = 0; step < count; step += 1) {
    const place = first + earliest + step / frames;
    for (const onset of onsets) sums[step] += soft[Math.round((place + onset) * frames)] ?? 0;
  }
  const most = Math.max(...sums);
  const tops = [...sums.keys()].filter((at) => sums[at] >= (sums[at - 1] ?? 0) && sums[at] >= (sums[at + 1] ?? 0) && sums[at] >= NEARLY * most);
  return tops.toSorted((one, two) => sums[two] - sums[one]).slice(0, TRIED).map((at) => first + earliest + at / frames);
}

function told(groups, strikes, { place, strokes }, { delay, by }) {
  const lates = strokes.map((stroke, at) => (stroke === null ? null : strikes.seconds[stroke] - place - groups[at][0].onset));
  const found = lates.filter((late) => late !== null);
  if (found.length < Math.max(by.fewest, by.fewest_share * groups.length) && groups.length > by.fewest) return null;
  const middle = delay === null && found.length ? median(found) : 0, extras = extrasOf(groups, strikes, strokes, place, by);
  const notes = groups.flatMap((group, at) => group.map((note) => (strokes[at] === null ? { note, verdict: MISSING, late: null }
    : { note, late: 1000 * (lates[at] - middle), ...verdictOf(note, group, strikes.salience[strokes[at]], by) })));
  return { notes, extras, bleeds: extras.length > by.stray_share * groups.length, begins: place + middle, isCalibrated: delay !== null };
}

// Strong strokes within the line that are none of its notes.
function extrasOf(groups, { seconds, strength }, strokes, place, by) {
  const used = new Set(strokes), [first] = groups[0], [last] = groups.at(-1), moving = groups.flat().filter((note) => note.moving);
  const low = place + first.onset - EDGE, high = place + last.onset + Math.min(RING, last.length);
  const isWithin = (second) => moving.some((note) => second > place + note.onset && second < place + note.onset + note.length);
  return seconds.filter((second, at) => !used.has(at) && second > low && second < high && strength[at] > by.extra_strength && !isWithin(second));
}

function verdictOf(note, group, salience, by) {
  if (group.length > 1 || !note.pitched) return { verdict: OK }; // of a chord nothing but when it is struck
  const heard = by.lowest + highest(salience, 0, salience.length), share = salience[note.wanted - by.lowest] ?? 0;
  if (share >= by.wrong_below || by.octaves.includes(heard - note.wanted)) return { verdict: OK };
  const low = Math.max(0, note.wanted - by.near_semitones - by.lowest);
  return { verdict: WRONG, heard: by.lowest + highest(salience, low, note.wanted + by.near_semitones + 1 - by.lowest) };
}

function highest(row, from, to) {
  let best = from;
  for (let at = from; at < Math.min(to, row.length); at += 1) if (row[at] > row[best]) best = at;
  return best;
}

// How late a device records, in seconds, from claps on a click that began with the take; null where they are few or
// uneven. As workbook/listen/tracks.py has it.
const FEWEST_CLAPS = 6, EVEN = 0.04, CLAP_SHARE = 0.5;
export function delayOf({ samples, rate, first, beat, by }) {
  const heard = atRate(samples, rate, by.rate), flux = fluxOf(heard, by), { seconds } = strikesOf(heard, flux, by);
  const begins = seconds.map((second) => flux[Math.round(second * by.rate / by.hop)] ?? 0);
  const least = CLAP_SHARE * (begins.toSorted((one, two) => two - one)[FEWEST_CLAPS - 1] ?? Infinity);
  const angles = seconds.filter((_, at) => begins[at] > least).map((second) => 2 * Math.PI * (second - first) / beat);
  if (angles.length < FEWEST_CLAPS) return null;
  const middle = Math.atan2(mean(angles.map(Math.sin)), mean(angles.map(Math.cos)));
  const off = angles.map((angle) => Math.abs(Math.atan2(Math.sin(angle - middle), Math.cos(angle - middle)))), turns = beat / (2 * Math.PI);
  const spread = 1.4826 * median(off) * turns;
  return spread > EVEN ? null : bounded(middle * turns, -beat / 2, beat / 2);
}
