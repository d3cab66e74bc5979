// Playing a line: its notes, its backing and the click, in time. Speed and loop change the beats a second, never a pitch.
import { createClock } from "../../browser/clock.js";
import { bendOf } from "../../browser/sound.js";

const AHEAD = 0.15, TICK = 30; // seconds scheduled ahead; milliseconds between two looks
const SOON = 0.06; // seconds from a press to the first sound
const NEAR = 1e-6; // beats
const SHORTEST = 0.1; // seconds that a sound of the backing lasts
export const SLOWEST = 0.5, FASTEST = 1.5; // shares of the line's tempo

// `tell` is called with "state" when playing, speed or loop change, and with "pass" after each pass.
export function createPlayer({ sound, parts, vibratoHz, tell }) {
  const clock = createClock();
  const [LINE, CLICK] = ["line", "click"];
  // loop: [first beat, beat after the last]; step: how much faster each pass is; place: where the line begins when paused
  const now = { line: null, playing: false, speed: 1, loop: null, step: 0, place: 0 };
  let next = 0, timer = 0;

  const rate = () => now.line.tempo / 60 * now.speed;
  const first = () => (now.loop ? now.loop[0] : 0);
  const last = () => (now.loop ? now.loop[1] : now.line.length);
  const within = (beat) => (beat >= first() && beat < last() ? beat : first());
  const heard = () => clock.at(sound.heard()) ?? { beat: now.place, count: false };

  function follow(over) {
    if (over.count) return { from: over.next, to: last(), rate: over.rate };
    if (now.step) now.speed = bounded(now.speed + now.step);
    tell("pass");
    return { from: first(), to: last(), rate: rate() };
  }

  function schedule() {
    const until = sound.time() + AHEAD;
    clock.extend(until, follow);
    for (const stretch of clock.between(next, until)) {
      clicks(stretch);
      if (!stretch.here.count) sounds(stretch);
    }
    next = until;
    sound.forget();
  }

  function clicks({ when, low, high }) {
    const { pulse, bar } = now.line;
    for (let beat = Math.ceil((low - NEAR) / pulse) * pulse; beat < high - NEAR; beat += pulse) {
      sound.click(when(beat), Math.abs(beat % bar) < NEAR, CLICK);
    }
  }

  function sounds({ here, when, low, high }) {
    const inside = (beat) => beat >= low - NEAR && beat < high - NEAR;
    const lasts = (start, end) => (Math.min(end, here.to) - start) / here.rate;
    for (const [start, end, sample, gain, path, wave] of now.line.notes) {
      if (!inside(start)) continue;
      const at = when(start), seconds = lasts(start, end);
      const bend = bendOf({ path, wave, hertz: vibratoHz, start, at, rate: here.rate, seconds });
      sound.play({ sample, at, seconds, gain, part: LINE, bend });
    }
    for (const [start, end, sample, gain, part] of now.line.backing) {
      if (!inside(start)) continue;
      sound.play({ sample, at: when(start), seconds: Math.max(SHORTEST, lasts(start, end)), gain, part: parts[part] });
    }
  }

  function begin(beat, countIn) {
    const at = sound.time() + SOON;
    clock.start(countIn
      ? { at, from: -now.line.bar, to: 0, rate: rate(), count: true, next: beat }
      : { at, from: beat, to: last(), rate: rate() });
    next = at;
  }

  function again(beat) { // from another beat, or at another speed, without a count-in
    sound.hush();
    begin(beat, false);
    schedule();
  }

  async function play({ countIn }) {
    if (now.playing) return false;
    now.playing = true;
    tell("state");
    await sound.open();
    if (!now.playing) return false; // paused while the sounds were read
    begin(within(now.place), countIn);
    timer = setInterval(schedule, TICK);
    schedule();
    return true;
  }

  function pause() {
    if (!now.playing) return;
    now.playing = false;
    clearInterval(timer);
    now.place = within(heard().beat);
    sound.hush();
    clock.stop();
    tell("state");
  }

  function jump(beat) {
    now.place = Math.max(first(), Math.min(beat, last() - now.line.bar));
    if (now.playing) again(now.place);
  }

  function setSpeed(value) {
    now.speed = bounded(value);
    if (now.playing) again(within(heard().beat));
    tell("state");
  }

  function setLoop(bars) { // [first, last] from 0, or nothing: the whole line
    now.loop = bars && [bars[0] * now.line.bar, (bars[1] + 1) * now.line.bar];
    if (now.playing) again(first());
    else now.place = first();
    tell("state");
  }

  function load(line) {
    pause();
    Object.assign(now, { line, loop: null, place: 0 });
    tell("state");
  }

  return {
    play, pause, jump, setSpeed, setLoop, load, within, heard,
    setStep: (step) => { now.step = step; },
    state: () => ({ ...now }),
    bars: () => now.loop && [now.loop[0] / now.line.bar, now.loop[1] / now.line.bar - 1],
    barAt: (beat) => Math.floor(beat / now.line.bar + NEAR),
    barCount: () => now.line.length / now.line.bar,
  };
}

const bounded = (speed) => Math.max(SLOWEST, Math.min(FASTEST, Math.round(speed * 100) / 100));
