// A recording that is played along with a line: its bars set the pace, and it goes slower or faster in its own pitch.
import { attacksIn } from "./attacks.js";
import { bounded } from "./numbers.js";
import { createStretch } from "./stretch.js";

const LEAD = 0.012; // seconds that it sounds before a first beat: who plays a beat does not wait for our grid
const FADE = 0.008; // seconds in which it comes in, and goes out
const AHEAD = 1; // seconds poured beyond what is asked for: a page that is busy for a moment leaves no gap
const MP3_RATE_DELAY = 1105; // samples that a reader of MP3 puts before the sound where it ignores what the file says of it

// `file` in base64; `seconds` and `rate` as they were before it was packed; `bars` the seconds at which bars begin, and
// at which the last one ends; `tempo` in quarter notes a minute, `limits` the lowest and the highest; `gain` brings it to
// the loudness of the other parts; `others` are the lines, by their order, on other changes: under them it is silent.
export function createTrack({ file, seconds, rate, bars, tempo, limits, beats, gain, others = [], sound, part }) {
  const count = bars.length - 1;
  let reading = null, channels = [], stretch = null;
  let here = null, begun = 0, frame = 0, end = 0; // the stretch of time that is poured: its first frame, its next, its last
  let turn = 0, turned = () => {}; // which of the places at which the line may begin; who is told that it is another

  const open = () => (reading ??= read());

  async function read() {
    if (!file) return;
    const found = await sound.decoded(file), extra = found.duration - seconds > MP3_RATE_DELAY / rate;
    const skip = extra ? Math.round(MP3_RATE_DELAY / rate * found.sampleRate) : 0;
    channels = Array.from({ length: found.numberOfChannels }, (_, number) => found.getChannelData(number).subarray(skip));
    stretch = createStretch({ channels, rate: found.sampleRate, attacks: attacksIn(channels, found.sampleRate) });
  }

  // The bars of the recording at which a line may begin: each time that its changes come round, as often as it fits.
  function turns(line) {
    const form = line.changes.length, long = Math.round(line.turn / line.bar), found = [];
    for (let bar = 0; bar + long <= count; bar += form) found.push(bar);
    return found.length ? found : [0];
  }

  const firstBar = (line) => turns(line)[turn % turns(line).length];

  // The line is over: it begins again where it ended in the recording, at the first bar where there is no more room.
  function goOn(line) {
    const further = turn % turns(line).length + Math.round(line.turn / line.bar / line.changes.length);
    turn = further < turns(line).length ? further : 0;
    turned();
  }

  // Seconds in the recording of a place in bars from its first one; before and after it goes on as it began and ended.
  function secondsAt(place) {
    const bar = bounded(Math.floor(place), 0, count - 1);
    return bars[bar] + (place - bar) * (bars[bar + 1] - bars[bar]);
  }

  function placeAt(second) {
    let low = 0, high = count;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (bars[middle] <= second) low = middle; else high = middle;
    }
    return low + (second - bars[low]) / (bars[low + 1] - bars[low]);
  }

  // Even beats of a line's beats, by where they lie in the recording, and back; `seconds` of a beat there.
  function warp(line) {
    const first = firstBar(line), a = tempo / 60, secondOf = (beat) => secondsAt(first + beat / line.bar);
    return { even: (beat) => a * secondOf(beat), beat: (even) => (placeAt(even / a) - first) * line.bar, second: secondOf };
  }

  // How much faster than on the whole it goes in the bar of a beat.
  function pace(line, beat) {
    const bar = bounded(firstBar(line) + Math.floor(beat / line.bar), 0, count - 1);
    return 60 * beats / (bars[bar + 1] - bars[bar]) / tempo;
  }

  // Tempos are whole numbers: the nearest one means the recording as it is.
  const rateAt = (wanted) => (wanted === Math.round(tempo) ? tempo : wanted) / 60;

  // What lies between two times of a stretch of playing, in one piece with what came before.
  function play({ here: asked, when, high }) {
    if (!stretch) return;
    const clock = sound.rate();
    if (asked !== here || frame < sound.time() * clock) begin(asked, clock);
    end = Math.round((asked.at + (asked.even(asked.to) - asked.even(asked.from)) / asked.rate - LEAD + FADE) * clock);
    const until = Math.min(end, Math.round((when(high) + AHEAD) * clock));
    if (until <= frame) return;
    const made = stretch.take(until - frame), first = frame;
    for (const samples of made) shape(samples, first, clock);
    sound.pour(made, frame, { gain, part });
    frame = until;
  }

  // From its first beat on, after what leads to it; or from now on, where a timer was held up.
  function begin(asked, clock) {
    here = asked;
    const speed = asked.rate * 60 / tempo, late = Math.max(0, sound.time() - asked.at);
    const lead = late ? 0 : Math.floor(Math.min(LEAD, asked.at - sound.time()) * clock);
    begun = Math.round((asked.at + late) * clock) - lead;
    frame = begun;
    stretch.start((asked.second(asked.from) + late * speed) * clock, speed, lead);
  }

  function shape(samples, first, clock) { // in at its beginning, out at its end
    const fade = FADE * clock;
    for (let index = 0; index < samples.length; index += 1) {
      const edge = Math.min(first + index - begun, end - first - index) / fade;
      if (edge < 1) samples[index] *= bounded(edge, 0, 1);
    }
  }

  return {
    open, warp, pace, play, turns,
    rate: rateAt, limits,
    isUnder: (line) => !others.includes(line.order),
    bar: (line, beat) => firstBar(line) + Math.floor(beat / line.bar + 1e-6),
    goOn,
    turn: (line) => turn % turns(line).length,
    setTurn: (number) => { turn = number; },
    whenTurned: (act) => { turned = act; },
  };
}
