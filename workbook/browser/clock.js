// Time: which beat sounds when. It knows no sound and no page, only stretches of playing time.
const same = (beat) => beat;
const KEPT = 20; // stretches that are over but may still be asked about

// A stretch begins `at` seconds, and its beats `from` to `to` pass at `rate` beats a second; `count` marks a count-in.
// Where beats differ in length, as in a recording, `even` makes even ones of them and `beat` goes back: those pass at `rate`.
export function createClock() {
  let stretches = [];

  function start(first) { stretches = [first]; }

  // Stretches one after the other until `until` seconds: `follow(the last)` gives the next, without its time.
  function extend(until, follow) {
    for (;;) {
      const end = stretches[stretches.length - 1];
      if (over(end) > until) return;
      stretches.push({ at: over(end), ...follow(end) });
      if (stretches.length > 2 * KEPT) stretches = stretches.slice(-KEPT);
    }
  }

  // What of each stretch lies between two times: the beats, and `when(beat)` in seconds.
  function between(low, high) {
    const found = [];
    for (const here of stretches) {
      const from = Math.max(low, here.at), to = Math.min(high, over(here));
      if (from >= to) continue;
      const when = (beat) => here.at + lasts(here, here.from, beat);
      found.push({ here, when, low: beatAt(here, from), high: beatAt(here, to) });
    }
    return found;
  }

  // The beat at a time, whether it is counted in, and the stretch that it lies in; nothing before the first start.
  function at(time) {
    const here = stretches.findLast((one) => one.at <= time) ?? stretches[0];
    if (!here) return null;
    return { beat: beatAt(here, Math.max(time, here.at)), count: Boolean(here.count), here };
  }

  return { start, extend, between, at, stop: () => { stretches = []; } };
}

const lasts = ({ rate, even = same }, low, high) => (even(high) - even(low)) / rate; // seconds from beat to beat
const over = (one) => one.at + lasts(one, one.from, one.to); // when a stretch ends

function beatAt({ at, from, rate, even = same, beat = same }, time) {
  return beat(even(from) + (time - at) * rate);
}
