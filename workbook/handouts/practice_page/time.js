// Time: which beat sounds when. Speed and loop change the beats a second, never a sample's pitch.
const AHEAD = 0.15, TICK = 30; // seconds scheduled ahead; milliseconds between two looks
// Stretches of playing time: from `at` seconds the beats `from` to `to` pass at `rate` beats a second.
let stretches = [], playing = false, next = 0, timer = 0, place = 0, started = 0;

const rateNow = () => line.tempo / 60 * speed;
const first = () => (loop ? loop[0] : 0);
const last = () => (loop ? loop[1] : line.length);
const within = (beat) => (beat >= first() && beat < last() ? beat : first());

function beatAt(time) {
  const here = stretches.findLast((one) => one.at <= time) ?? stretches[0];
  return here ? here.from + Math.max(0, time - here.at) * here.rate : place;
}

function extend(until) {
  for (;;) {
    const end = stretches[stretches.length - 1];
    const over = end.at + (end.to - end.from) / end.rate;
    if (over > until) return;
    if (end.count) {
      stretches.push({ at: over, from: end.next, to: last(), rate: end.rate });
    } else {
      if (step && speed < 1.5) setSpeed(Math.min(1.5, speed + step / 100), false);
      stretches.push({ at: over, from: first(), to: last(), rate: rateNow() });
    }
    if (stretches.length > 40) stretches = stretches.slice(-20);
  }
}

function schedule() {
  const until = audio.currentTime + AHEAD;
  extend(until);
  for (const here of stretches) {
    const low = Math.max(next, here.at), high = Math.min(until, here.at + (here.to - here.from) / here.rate);
    if (low >= high) continue;
    const beatLow = here.from + (low - here.at) * here.rate, beatHigh = here.from + (high - here.at) * here.rate;
    const inside = (beat) => beat >= beatLow - 1e-6 && beat < beatHigh - 1e-6;
    const when = (beat) => here.at + (beat - here.from) / here.rate;
    for (let beat = Math.ceil((beatLow - 1e-6) / line.pulse) * line.pulse; beat < beatHigh - 1e-6; beat += line.pulse) {
      click(when(beat), Math.abs(beat % line.bar) < 1e-6);
    }
    if (here.count) continue;
    for (const [start, end, sample, gain, path, wave] of line.notes) {
      if (!inside(start)) continue;
      const seconds = (Math.min(end, here.to) - start) / here.rate;
      sound(sample, when(start), seconds, gain, "line", bendOf(path, wave, start, when(start), here.rate, seconds));
    }
    for (const [start, end, sample, gain] of line.backing) {
      if (inside(start)) sound(sample, when(start), Math.max(0.1, (Math.min(end, here.to) - start) / here.rate), gain, "backing");
    }
  }
  next = until;
  voices = voices.filter((one) => one.end > audio.currentTime - 0.1);
}

async function play() {
  if (playing) return;
  playing = true;
  label();
  await open();
  await audio.resume();
  if (!playing) return;
  caution();
  begin(within(place), $("p-count").checked);
  shown = -1; // drawn anew, so that the page scrolls to the first note too
  show(stepAt(within(place)));
  started = performance.now();
  timer = setInterval(schedule, TICK);
  schedule();
  requestAnimationFrame(follow);
}

function begin(beat, countIn) {
  const at = audio.currentTime + 0.06;
  stretches = countIn
    ? [{ at, from: -line.bar, to: 0, rate: rateNow(), count: true, next: beat }]
    : [{ at, from: beat, to: last(), rate: rateNow() }];
  next = at;
}

function pause() {
  if (!playing) return;
  playing = false;
  clearInterval(timer);
  place = within(clock().beat);
  hush();
  stretches = [];
  const minutes = (performance.now() - started) / 60000;
  kept.minutes[line.figure] = (kept.minutes[line.figure] ?? 0) + minutes;
  keep();
  log();
  label();
}

// What is heard now: the beat at the audio clock, and whether it is the count-in.
function clock() {
  const time = audio.currentTime - (audio.outputLatency || 0);
  const here = stretches.findLast((one) => one.at <= time) ?? stretches[0];
  return here && here.count ? { beat: beatAt(time), count: true, time } : { beat: beatAt(time), count: false, time };
}

function jump(beat) {
  place = Math.max(first(), Math.min(beat, last() - line.bar));
  if (playing) { hush(); begin(place, false); schedule(); }
  show(stepAt(place));
}

function setSpeed(value, restart = true) {
  speed = Math.max(0.5, Math.min(1.5, Math.round(value * 100) / 100));
  $("p-speed").value = Math.round(speed * 100);
  $("p-speed-out").textContent = `${Math.round(speed * 100)} % · ♩ = ${Math.round(line.tempo * speed)}`;
  if (playing && restart) { const { beat } = clock(); hush(); begin(within(beat), false); schedule(); }
}

function setLoop(bars) {
  loop = bars && [bars[0] * line.bar, (bars[1] + 1) * line.bar];
  $("p-loop-out").textContent = !bars ? "whole line" : bars[0] === bars[1] ? `bar ${bars[0] + 1}` : `bars ${bars[0] + 1} to ${bars[1] + 1}`;
  $("p-unloop").disabled = !bars;
  $("p-from").value = bars ? bars[0] + 1 : 1;
  $("p-to").value = bars ? bars[1] + 1 : line.length / line.bar;
  paintLoop();
  if (playing) { hush(); begin(first(), false); schedule(); } else place = first();
}
