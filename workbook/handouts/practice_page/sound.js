// Sound: samples of the bank and clicks, placed on the audio clock through a gain for each part.
let audio = null, bank = null, gains = {}, master = null, volume = 0.6;
let voices = []; // what is scheduled or sounding, so that it can be hushed
const muted = { line: false, backing: false, click: false };

async function open() {
  if (audio) return;
  audio = new AudioContext({ latencyHint: "interactive" });
  master = audio.createGain();
  master.gain.value = volume;
  const guard = audio.createDynamicsCompressor();
  guard.threshold.value = -8;
  master.connect(guard).connect(audio.destination);
  for (const part of PARTS) {
    gains[part] = audio.createGain();
    gains[part].gain.value = muted[part] ? 0 : 1;
    gains[part].connect(master);
  }
  const bytes = Uint8Array.from(atob(data.bank), (sign) => sign.charCodeAt(0));
  bank = await audio.decodeAudioData(bytes.buffer);
}

function sound(sample, at, seconds, gain, part, bend) {
  const [offset, length] = data.samples[sample];
  const source = audio.createBufferSource(), level = audio.createGain();
  source.buffer = bank;
  const last = Math.min(seconds, length);
  level.gain.setValueAtTime(gain, at);
  level.gain.setValueAtTime(gain, Math.max(at, at + last - 0.02));
  level.gain.linearRampToValueAtTime(0, at + last);
  if (bend) for (const [when, cents] of bend) source.playbackRate.setValueAtTime(2 ** (cents / 1200), Math.max(at, when));
  source.connect(level).connect(gains[part]);
  source.start(at, offset, length);
  source.stop(at + last + 0.01);
  voices.push({ source, at, end: at + last });
}

function click(at, strong) {
  const tone = audio.createOscillator(), level = audio.createGain();
  tone.frequency.value = strong ? 1600 : 1100;
  level.gain.setValueAtTime(strong ? 0.35 : 0.22, at);
  level.gain.exponentialRampToValueAtTime(0.001, at + 0.04);
  tone.connect(level).connect(gains.click);
  tone.start(at);
  tone.stop(at + 0.05);
  voices.push({ source: tone, at, end: at + 0.05 });
}

// The pitch of a bent note as [time, cents] every hundredth of a second.
function bendOf(path, wave, start, at, rate, seconds) {
  if (!path.length && !wave) return null;
  const found = [];
  for (let time = 0; time <= seconds; time += 0.01) {
    const beat = start + time * rate;
    let cents = path.length ? path[path.length - 1][1] : 0;
    if (path.length && beat <= path[0][0]) cents = path[0][1];
    for (let index = 0; index + 1 < path.length; index += 1) {
      const [one, low] = path[index], [two, high] = path[index + 1];
      if (one <= beat && beat < two) cents = low + (high - low) * (beat - one) / (two - one);
    }
    if (wave && beat > wave[0]) cents += wave[1] / 2 * (1 - Math.cos(2 * Math.PI * data.vibrato_hz * (beat - wave[0]) / rate));
    found.push([at + time, cents]);
  }
  return found;
}

function hush() {
  for (const one of voices) try { one.source.stop(); } catch { /* already over */ }
  voices = [];
}
