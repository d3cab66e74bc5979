// Sound: samples of one bank and clicks, placed on the audio clock through a gain for each part.
const CLICKS = { strong: [1600, 0.35], weak: [1100, 0.22], between: [850, 0.1] }; // hertz, and loudness at its start
const RELEASE = 0.06, CHOKE = 0.01; // seconds in which a note that ends falls silent; in which a hat stops another
const HUSH = 0.015; // seconds in which everything falls silent at a pause

// `samples` are [start, length] in seconds within the bank, and of a sound that may be held longer [start, length, start
// of the loop at its end, decibels a second by which it fades there]; `bank` is its file in base64 or its bytes,
// empty on a silent page. A sound of `chokes` stops the one of them that still rings: a drummer has one pair of hats.
export function createSound({ bank, samples, chokes = [], parts, volume = 0.6 }) {
  const gains = new Map(), levels = new Map(parts.map((part) => [part, 1]));
  let audio = null, buffer = null, master = null, reading = null;
  let voices = []; // what is scheduled or sounding, so that it can be hushed
  let ringing = null; // the last of `chokes`
  const choking = new Set(chokes);

  // Sound begins with a gesture: a browser lets no audio run before.
  async function open() {
    const ready = prepare();
    await audio.resume();
    await ready;
  }

  // Everything may be made before the gesture, so that the first press sounds at once.
  function prepare() {
    if (!audio) connect();
    reading ??= read();
    return reading;
  }

  function connect() {
    audio = new AudioContext({ latencyHint: "interactive" });
    master = audio.createGain();
    master.gain.value = volume;
    const guard = audio.createDynamicsCompressor();
    guard.threshold.value = -8;
    master.connect(guard).connect(audio.destination);
    for (const part of parts) {
      const gain = audio.createGain();
      gain.gain.value = levels.get(part);
      gain.connect(master);
      gains.set(part, gain);
    }
  }

  async function read() {
    if (bank) buffer = await decoded(bank);
  }

  // A file of sound, in base64 or as its bytes, at the audio clock's own rate.
  const decoded = (file) => audio.decodeAudioData(
    typeof file === "string" ? Uint8Array.from(atob(file), (sign) => sign.charCodeAt(0)).buffer : file);

  // `bend` is [time, cents] …, or nothing. Without `seconds` the sound is played whole, as what is struck rings.
  function play({ sample, at, seconds, gain, part, bend }) {
    if (!buffer) return;
    const [offset, length, loop, fade] = samples[sample];
    const source = audio.createBufferSource(), level = audio.createGain();
    source.buffer = buffer;
    const isHeld = loop !== undefined && seconds > length - RELEASE;
    const last = isHeld ? seconds : Math.min(seconds ?? length, length - RELEASE);
    level.gain.setValueAtTime(gain, at);
    if (isHeld) {
      Object.assign(source, { loop: true, loopStart: offset + loop, loopEnd: offset + length });
      // A fade by so many decibels a second is an exponential of this time constant.
      if (fade > 0) level.gain.setTargetAtTime(0, at + loop, 20 / Math.LN10 / fade);
    }
    level.gain.setTargetAtTime(0, at + last, RELEASE / 3);
    if (bend) for (const [when, cents] of bend) source.playbackRate.setValueAtTime(2 ** (cents / 1200), Math.max(at, when));
    source.connect(level).connect(gains.get(part));
    if (isHeld) source.start(at, offset); else source.start(at, offset, length);
    source.stop(at + last + RELEASE);
    const voice = { source, level, end: at + last + RELEASE };
    if (choking.has(sample)) choke(voice, at);
    voices.push(voice);
  }

  // Samples at hand, an array a channel, of as many a second as the audio clock has; `frame` is its number on
  // that clock. Of no part, it goes to the ear as it is.
  function pour(channels, frame, { gain, part }) {
    const made = audio.createBuffer(channels.length, channels[0].length, audio.sampleRate);
    channels.forEach((one, number) => made.copyToChannel(one, number));
    const source = audio.createBufferSource(), level = audio.createGain();
    source.buffer = made;
    level.gain.value = gain;
    source.connect(level).connect(gains.get(part) ?? master);
    source.start(frame / audio.sampleRate);
    voices.push({ source, level, end: frame / audio.sampleRate + made.duration });
  }

  function choke(voice, at) {
    if (ringing && ringing.end > at) {
      ringing.level.gain.cancelScheduledValues(at);
      ringing.level.gain.setTargetAtTime(0, at, CHOKE / 3);
      ringing.source.stop(at + CHOKE);
    }
    ringing = voice;
  }

  function click(at, kind, part) {
    const tone = audio.createOscillator(), level = audio.createGain();
    const [hertz, loud] = CLICKS[kind];
    tone.frequency.value = hertz;
    level.gain.setValueAtTime(loud, at);
    level.gain.exponentialRampToValueAtTime(0.001, at + 0.04);
    tone.connect(level).connect(gains.get(part));
    tone.start(at);
    tone.stop(at + 0.05);
    voices.push({ source: tone, level, end: at + 0.05 });
  }

  function hush() {
    const now = audio ? audio.currentTime : 0;
    for (const { source, level } of voices) {
      level.gain.cancelScheduledValues(now);
      level.gain.setTargetAtTime(0, now, HUSH / 3);
      try { source.stop(now + HUSH); } catch { /* already over */ }
    }
    voices = [];
    ringing = null;
  }

  function forget() { // voices that are over
    voices = voices.filter((one) => one.end > audio.currentTime - 0.1);
  }

  function setLevel(part, level) {
    levels.set(part, level);
    if (gains.has(part)) gains.get(part).gain.value = level;
  }

  function setVolume(value) {
    volume = value;
    if (master) master.gain.value = value;
  }

  return {
    open, prepare, play, pour, decoded, click, hush, forget, setLevel, setVolume,
    context: () => audio,
    rate: () => (audio ? audio.sampleRate : 0),
    time: () => (audio ? audio.currentTime : 0),
    heard: () => (audio ? audio.currentTime - (audio.outputLatency || 0) : 0), // what is at the ear now
    gains: () => Object.fromEntries([...gains].map(([part, one]) => [part, one.gain.value])),
  };
}

// The pitch of a bent note as [time, cents] every hundredth of a second; nothing for a straight one.
// `path` is [beat, cents] …; `wave` is [beat of its start, width in cents] of a vibrato of `hertz`.
export function bendOf({ path, wave, hertz, start, at, rate, seconds }) {
  if (!path.length && !wave) return null;
  const found = [];
  for (let time = 0; time <= seconds; time += 0.01) {
    const beat = start + time * rate;
    const shaken = wave && beat > wave[0]
      ? grown((beat - wave[0]) / rate) * wave[1] / 2 * (1 - Math.cos(2 * Math.PI * hertz * (beat - wave[0]) / rate)) : 0;
    found.push([at + time, centsAt(path, beat) + shaken]);
  }
  return found;
}

// How far a vibrato has grown after so many seconds: from half to its whole width.
const GROWN = 0.3;
const grown = (seconds) => Math.min(1, 0.5 + seconds / GROWN / 2);

// A finger pushes slowly, quickly, slowly.
const eased = (share) => share * share * (3 - 2 * share);

function centsAt(path, beat) {
  if (!path.length) return 0;
  if (beat <= path[0][0]) return path[0][1];
  for (let index = 0; index + 1 < path.length; index += 1) {
    const [one, low] = path[index], [two, high] = path[index + 1];
    if (one <= beat && beat < two) return low + (high - low) * eased((beat - one) / (two - one));
  }
  return path[path.length - 1][1];
}
