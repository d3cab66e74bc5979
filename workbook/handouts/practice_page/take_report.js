// What is told of a take on the page: three sentences, a picture, signs under the notes, and what cannot be told.
import { hearTake, OK } from "../../browser/heard_take.js";
import { findingsOf, measuresOf, wentWell } from "../../browser/take_words.js";
import { $, make } from "./dom.js";
import { signsOf, takePicture } from "./take_picture.js";

const MOST = 3; // sentences
const STRUCK = 1, PITCHED = 2, MOVING = 4; // bits of a note's row
const RINGS = 0.25; // seconds before the end of a take after whose beginning a note is not asked for
const GAP = 0.05; // seconds that a busy browser may let fall without a note being lost
const NO_HAND = 4, MANY = 8; // ms: so many notes as even as that are the page's own sound (by judgement)
const rest = () => new Promise((done) => { setTimeout(done); });

// `score(line)` shows signs; `log(line, score)` keeps a score.
export function createTakeReport({ hearing: { by, tell }, score, log }) {
  let asked = 0; // the take that is worked on: another may come before it is done

  function clear() {
    asked += 1;
    $("p-take-heard").hidden = true;
    score().mark([]);
  }

  // `taken` as it was recorded: samples, rate, first, gaps, line, tempo, `when(beat)` in seconds from the first beat;
  // `delay` in seconds, or null.
  async function hear(taken, delay) {
    clear();
    const mine = asked, { line, tempo } = taken, notes = notesOf(taken, delay);
    if (notes.length < by.fewest) return;
    const take = await hearTake({ ...taken, notes, delay, by, rest });
    if (mine !== asked) return;
    $("p-take-heard").hidden = false;
    if (!take) { say(["The notes of the line were not found in it: was it this line, at this tempo, loud enough?"]); return; }
    if (taken.gaps > GAP) take.bleeds = true; // what fell into a gap is not missing
    const numbers = measuresOf(take, tell), worth = tell.worth.uneven;
    const found = findingsOf(take, numbers, { tell, tempo });
    say([wentWell(take, numbers, tell), ...astray(take, tempo), ...found.map(({ words }) => words)].slice(0, MOST));
    $("p-take-picture").replaceChildren(takePicture({ take, bar: line.bar, worth, noticed: tell.noticed_ms }));
    $("p-take-unjudged").replaceChildren(...unjudged(take, taken, numbers).map((words) => make("li", {}, words)));
    score().mark(signsOf(take, worth));
    log(line, { tempo, right: numbers.of(OK).length, count: notes.length, spread: Math.round(numbers.whole.deviation) });
  }

  function say(sentences) {
    $("p-take-words").replaceChildren(...sentences.map((words) => make("li", {}, words)));
    $("p-take-picture").replaceChildren();
    $("p-take-unjudged").replaceChildren();
  }

  return { hear, clear };
}

function astray({ astray: seconds = 0 }, tempo) {
  const beats = Math.round(2 * Math.abs(seconds) * tempo / 60) / 2;
  const told = beats < 1 ? "half a beat" : `${beats} beat${beats === 1 ? "" : "s"}`;
  return beats ? [`You came in ${told} ${seconds > 0 ? "late" : "early"}: count along, and hear it with the line.`] : [];
}

// The notes that there was time for.
function notesOf({ line, samples, rate, first, when }, delay) {
  const last = samples.length / rate - first - (delay ?? 0) - RINGS;
  return line.asked.map(([index, start, length, wanted, midi, bits, bar, beat]) => ({
    index, onset: when(start), length: when(start + length) - when(start), wanted, midi, bar, beat,
    struck: Boolean(bits & STRUCK), pitched: Boolean(bits & PITCHED), moving: Boolean(bits & MOVING),
  })).filter(({ onset }) => onset < last);
}

function unjudged(take, { gaps, line }, { whole }) {
  const told = [];
  if (whole.count >= MANY && whole.deviation < NO_HAND) told.push("No hand is as even as that: the microphone may have heard this page. Use headphones.");
  if (!take.isCalibrated) told.push("Early or late on the whole: nobody knows how late this device records. Clap to the click, and it is measured.");
  if (take.bleeds) told.push(`What is missing: ${gaps > GAP ? "the browser was busy, and a part was not recorded" : "other sounds are in the microphone"}.`);
  if (line.steps.some(([, indexes]) => indexes.length > 1)) told.push("Of chords only when they are struck.");
  return [...told, "Bends, vibrato, loudness and how long notes ring: your teacher's report has them."];
}
