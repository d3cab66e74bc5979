// Playing a line: its notes, its backing and the click, in time. Tempo and loop change the beats a second, never a pitch.
import { createClock } from "./clock.js";
import { bounded } from "./numbers.js";
import { bendOf } from "./sound.js";

const AHEAD = 0.15, TICK = 30; // seconds scheduled ahead; milliseconds between two looks
const AHEAD_UNSEEN = 2.5; // where the page is not seen, a browser lets its timer run once a second or less
const LATE = 0.02; // seconds: what should have sounded longer ago is left out
const NEAR = 1e-6; // beats
const SHORTEST = 0.1; // seconds that a note of the backing lasts
const SLOWEST = 0.3, FASTEST = 2; // shares of the line's tempo
const LINE = "line", CLICK = "click", DRUMS = "drums";

// `track`, if there is one, is a recording that is played along (own_track.js): its bars set the pace, and its tempo
// the bounds. Tells the bus "tempo", "loop", "state" (plays or not), "place" (moved while it rests) and, as they are heard, "pass".
// `soon`: seconds from a press to the first sound.
export function createPlayer({ sound, parts, vibratoHz, bus, soon = 0.06, track = null }) {
  const clock = createClock();
  // loop: [first bar, last bar] or nothing; place: the beat at which it begins; count: bars, clicks: a beat;
  // rise: quarter notes a minute faster after so many passes (`after`), up to `goal`; once: the line with its last bar
  const now = { line: null, playing: false, tempo: 100, loop: null, place: 0, count: 1, clicks: 1, rise: 0, after: 1, goal: 0, once: false };
  let next = 0, timer = 0, passed = 0, starts = 0; // starts: when what is played begins, after its count-in

  const along = () => (now.line && track?.isUnder(now.line) ? track : null); // not all lines are played over it
  const rate = () => along()?.rate(now.tempo) ?? now.tempo / 60;
  const first = () => (now.loop ? now.loop[0] * now.line.bar : 0);
  const last = () => (now.loop ? (now.loop[1] + 1) * now.line.bar : now.line.length);
  // A line that comes to rest a bar after its changes begins again where that bar would be: it is their first, and the
  // band goes on in its form. It is heard by who begins in it, and where the line is played once.
  const turn = (from) => (now.loop || now.once || from >= now.line.turn - NEAR ? last() : now.line.turn ?? last());
  const within = (beat) => (beat >= first() && beat < last() ? beat : first());
  const limits = () => along()?.limits ?? [Math.ceil(now.line.tempo * SLOWEST), Math.floor(now.line.tempo * FASTEST)];
  const heard = () => clock.at(sound.heard()) ?? { beat: now.place, count: false, here: null };

  // What comes after a stretch. `passes` are those that are over when it begins; a pass counts if it was played whole.
  function follow(over) {
    if (over.count) return { ...stretch(over.to), passes: over.passes };
    const isWhole = over.from <= first() + NEAR, passes = over.passes + (isWhole ? 1 : 0);
    const ended = isWhole ? { tempo: over.tempo, whole: over.whole } : over.ended;
    const rises = now.rise && passes > over.passes && passes % now.after === 0 && now.tempo < now.goal;
    if (rises) change(Math.min(now.goal, now.tempo + now.rise));
    if (!now.loop) along()?.goOn(now.line);
    return { ...stretch(first()), passes, ended };
  }

  const stretch = (from) => ({ from, to: turn(from), rate: rate(), tempo: now.tempo, whole: !now.loop, ...along()?.warp(now.line) });

  function change(tempo) {
    now.tempo = bounded(Math.round(tempo), ...limits());
    bus.tell("tempo");
  }

  function schedule() {
    const until = sound.time() + (document.hidden ? AHEAD_UNSEEN : AHEAD);
    clock.extend(until, follow);
    next = Math.max(next, sound.time() - LATE); // a timer that was held up: what is past would sound all at once
    for (const part of clock.between(next, until)) {
      clicks(part);
      if (part.here.count) continue;
      sounds(part);
      along()?.play(part);
    }
    next = Math.max(next, until);
    sound.forget();
  }

  function clicks({ here, when, low, high }) {
    const { pulse, bar } = now.line, step = here.count ? pulse : pulse / now.clicks;
    for (let beat = Math.ceil((low - NEAR) / step) * step; beat < high - NEAR; beat += step) {
      const into = (beat % bar + bar) % bar, isOne = into < NEAR || bar - into < NEAR;
      sound.click(when(beat), isOne ? "strong" : beatStarts(beat, pulse) ? "weak" : "between", CLICK);
    }
  }

  function sounds({ here, when, low, high }) {
    const inside = (beat) => beat >= low - NEAR && beat < high - NEAR;
    const lasts = (start, end) => when(Math.min(end, here.to)) - when(start);
    for (const [start, end, sample, gain, path, wave] of now.line.notes) {
      if (!inside(start)) continue;
      const at = when(start), seconds = lasts(start, end), pace = (Math.min(end, here.to) - start) / seconds;
      const bend = bendOf({ path, wave, hertz: vibratoHz, start, at, rate: pace, seconds });
      sound.play({ sample, at, seconds, gain, part: LINE, bend });
    }
    for (const [start, end, sample, gain, part, cents] of now.line.backing) {
      if (!inside(start)) continue;
      const at = when(start), seconds = parts[part] === DRUMS ? undefined : Math.max(SHORTEST, lasts(start, end));
      sound.play({ sample, at, seconds, gain, part: parts[part], bend: cents ? [[at, cents]] : null });
    }
  }

  // The count-in lasts whole bars and ends where the line begins: its strong clicks are those of the bar itself, in
  // mid-bar too. A recording is counted in at the tempo of the bar that it begins with.
  function begin(beat, bars) {
    const at = sound.time() + soon;
    passed = 0;
    clock.start(bars
      ? { at, from: beat - bars * now.line.bar, to: beat, rate: rate() * (along()?.pace(now.line, beat) ?? 1), count: true, passes: 0 }
      : { at, ...stretch(beat), passes: 0 });
    next = at;
    starts = at + (bars ? bars * now.line.bar / (rate() * (along()?.pace(now.line, beat) ?? 1)) : 0);
  }

  function again(beat) { // from another beat, or at another tempo, without a count-in
    sound.hush();
    begin(beat, 0);
    schedule();
  }

  async function play() {
    if (now.playing) return;
    now.playing = true;
    bus.tell("state");
    await sound.open();
    await along()?.open();
    if (!now.playing) return; // paused while the sounds were read
    begin(within(now.place), now.count);
    timer = setInterval(schedule, TICK);
    schedule();
    bus.tell("started");
  }

  function pause() {
    if (!now.playing) return;
    const { beat, count } = heard();
    now.playing = false;
    clearInterval(timer);
    if (!count) now.place = within(beat);
    sound.hush();
    clock.stop();
    bus.tell("state");
    bus.tell("place");
  }

  document.addEventListener("visibilitychange", () => { if (now.playing && clock.at(0)) schedule(); });

  // Begin at a beat: at once while it plays, else at the next press.
  function jump(beat) {
    now.place = bounded(beat, first(), last() - NEAR);
    if (now.playing) again(now.place);
    bus.tell("place");
  }

  function setTempo(tempo) {
    change(tempo);
    if (!now.playing) return;
    const { beat, count } = heard();
    if (count) { sound.hush(); begin(within(now.place), now.count); schedule(); } else again(within(beat));
  }

  function setLoop(bars) {
    now.loop = bars;
    if (now.playing && !heard().count) again(within(heard().beat));
    else if (!now.playing) now.place = within(now.place);
    bus.tell("loop");
    bus.tell("place");
  }

  function load(line, { tempo, loop, place, rise, after, goal }) {
    pause();
    Object.assign(now, { line, loop, rise, after, goal });
    now.place = within(place);
    change(tempo);
    bus.tell("line");
  }

  // The passes that ended since the last look are told, with the tempo of the last and whether it was the whole line.
  function look() {
    const at = heard();
    while (now.playing && at.here && at.here.passes > passed) {
      passed += 1;
      bus.tell("pass", at.here.ended);
    }
    return at;
  }

  return {
    play, pause, jump, setTempo, setLoop, load, look, within,
    toggle: () => (now.playing ? pause() : play()),
    set: (choices) => Object.assign(now, choices),
    state: () => now, heard, startsAt: () => starts,
    here: () => within(now.playing && !heard().count ? heard().beat : now.place),
    barOf: (beat) => Math.floor(beat / now.line.bar + NEAR),
    barCount: () => Math.round(now.line.length / now.line.bar),
  };
}

const beatStarts = (beat, pulse) => Math.abs(beat / pulse - Math.round(beat / pulse)) < NEAR;
