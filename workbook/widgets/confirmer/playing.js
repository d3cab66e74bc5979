// The recording played with a click on its grid: what is moved in the grid is heard from the next beat on.
import { createSound } from "../../browser/sound.js";

const AHEAD = 0.25, TICK = 40, SLICE = 0.5; // seconds scheduled ahead; milliseconds between looks; seconds poured at once

// `beats()` are [second, is it the first of its bar] in the recording; `changed` is told when it begins or ends.
export function createPlaying({ load, beats, changed }) {
  const sound = createSound({ bank: "", samples: [], parts: ["recording", "click"], volume: 0.5 });
  let channels = null, rate = 0, gain = 1, reading = null;
  let timer = 0, begun = 0, from = 0, poured = 0, clicked = 0, rest = 0; // `begun`: the time at which second `from` sounds

  const open = () => (reading ??= read());

  async function read() {
    const { bytes, gain: wanted } = await load();
    const copy = bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength);
    const found = await sound.decoded(copy);
    channels = Array.from({ length: found.numberOfChannels }, (_, number) => found.getChannelData(number));
    rate = found.sampleRate;
    gain = wanted;
  }

  const at = () => (timer ? Math.max(from, from + sound.heard() - begun) : rest);

  async function play(second = rest) {
    await sound.open();
    await open();
    stop();
    rest = Math.max(0, second);
    from = rest;
    begun = sound.time() + 0.08;
    poured = Math.round(from * rate);
    clicked = from - 1e-6;
    timer = setInterval(schedule, TICK);
    schedule();
    changed();
  }

  function schedule() {
    const until = from + sound.time() + AHEAD - begun;
    while (poured < Math.min(until * rate, channels[0].length)) {
      const end = Math.min(channels[0].length, poured + Math.round(SLICE * rate));
      sound.pour(channels.map((one) => one.slice(poured, end)), Math.round(begun * rate) + poured - Math.round(from * rate), { gain, part: "recording" });
      poured = end;
    }
    for (const [second, isOne] of beats()) {
      if (second > clicked && second <= until) sound.click(begun + second - from, isOne ? "strong" : "weak", "click");
    }
    clicked = Math.max(clicked, until);
    sound.forget();
    if (at() > channels[0].length / rate) stop();
  }

  function stop() {
    if (!timer) return;
    rest = at();
    clearInterval(timer);
    timer = 0;
    sound.hush();
    changed();
  }

  function seek(second) {
    if (timer) play(second); else { rest = Math.max(0, second); changed(); }
  }

  return {
    play, stop, seek, at,
    toggle: () => (timer ? stop() : play()),
    isPlaying: () => Boolean(timer), channels: () => channels, rate: () => rate,
    setClick: (on) => sound.setLevel("click", on ? 1 : 0), setVolume: sound.setVolume,
  };
}
