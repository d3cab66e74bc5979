// A microphone taken up beside the page's own clock: sample by sample, and nothing of it leaves the page.
//
// Beside what the microphone hears runs a silent ramp that tells the page's time. Both go through one node, so that the
// line's first beat is known in the take to the sample, and what a busy browser lets fall is found and left as a gap. What
// the device itself delays nobody knows here.
const BLOCK = 16_384; // samples that a browser hands over at once
const SAME = 64; // samples by which the ramp may be off: it has 24 bits
const LEVEL = 2048; // samples whose level is shown
const LONGEST = 600; // seconds
const AHEAD = 0.2; // seconds: less than a block. A ramp that is to begin now begins some ms late where a browser is busy
const PATIENCE = 2; // seconds that the end is waited for: a browser that is no more heard hands nothing over
const PLAIN = { echoCancellation: false, noiseSuppression: false, autoGainControl: false }; // an instrument is no speech

// `context()` is the audio clock's own, once it is open.
export function createCapture({ context }) {
  let stream = null, source = null, joined = null, node = null, mark = null, meter = null;
  let pieces = [], began = 0; // [sample of the page's clock, samples] …; the time at which it began
  let awaited = null; // {until, done}: the sample that the end is waited for

  async function open() {
    const devices = navigator.mediaDevices;
    if (!devices?.getUserMedia || !context().createScriptProcessor) throw new Error("This browser gives a page from a file no microphone.");
    stream = await devices.getUserMedia({ audio: PLAIN });
    source = context().createMediaStreamSource(stream);
    meter = context().createAnalyser();
    meter.fftSize = LEVEL;
    source.connect(meter);
  }

  function begin() {
    const audio = context(), silence = audio.createGain();
    joined = audio.createChannelMerger(2);
    Object.assign(silence.gain, { value: 0 });
    node = audio.createScriptProcessor(BLOCK, 2, 1);
    mark = audio.createConstantSource();
    began = audio.currentTime + AHEAD;
    Object.assign(mark.offset, { value: 0 });
    mark.offset.setValueAtTime(0, began);
    mark.offset.linearRampToValueAtTime(LONGEST, began + LONGEST);
    source.connect(joined, 0, 0);
    mark.connect(joined, 0, 1);
    joined.connect(node).connect(silence).connect(audio.destination); // a node that leads nowhere is not run
    mark.start();
    pieces = [];
    node.addEventListener("audioprocess", ({ inputBuffer }) => {
      const until = Math.round(inputBuffer.getChannelData(1)[BLOCK - 1] * audio.sampleRate), [before] = pieces.slice(-1);
      if (until >= LONGEST * audio.sampleRate || until === 0) return; // over, or not begun
      const told = until - BLOCK + 1;
      const follows = before ? before[0] + BLOCK : told;
      pieces.push([Math.abs(told - follows) < SAME ? follows : told, inputBuffer.getChannelData(0).slice()]);
      if (awaited && until >= awaited.until) awaited.done();
    });
  }

  // A block is handed over when it is full, and later by as much as the browser is busy: at the moment of the end its
  // last one to two are still on their way.
  const handedOver = (until) => new Promise((done) => {
    awaited = { until, done };
    setTimeout(done, 1000 * PATIENCE);
  });

  // What was taken up until now: {samples, rate, first: seconds to a moment of the page's clock, gaps: seconds that are
  // missing}; null where it had not come so far.
  async function end(moment) {
    const rate = context().sampleRate, until = Math.round((context().currentTime - began) * rate);
    await handedOver(until);
    awaited = null;
    for (const one of [node, mark, joined]) one.disconnect();
    mark.stop();
    source.disconnect(joined);
    const [start] = pieces[0] ?? [0], last = (pieces.at(-1)?.[0] ?? 0) + BLOCK;
    const first = moment - began - start / rate, length = pieces.length ? Math.max(0, Math.min(last, until) - start) : 0;
    if (first < 0 || first * rate > length) return null;
    const samples = new Float32Array(length);
    for (const [at, piece] of pieces.filter(([one]) => one - start < length)) samples.set(piece.subarray(0, start + length - at), at - start);
    return { samples, rate, first, gaps: (last - start - pieces.length * BLOCK) / rate };
  }

  function close() {
    for (const track of stream?.getTracks() ?? []) track.stop();
    source?.disconnect();
    stream = null;
  }

  function level() { // the highest value of the last moment, 0 to 1
    if (!meter) return 0;
    const now = new Float32Array(meter.fftSize);
    meter.getFloatTimeDomainData(now);
    return now.reduce((top, value) => Math.max(top, Math.abs(value)), 0);
  }

  return { open, begin, end, close, level, isOpen: () => Boolean(stream) };
}

// One channel as a WAV file of 16 bits (RIFF; Microsoft and IBM, 1991).
export function waveFile(samples, rate) {
  const bytes = new DataView(new ArrayBuffer(44 + 2 * samples.length));
  const text = (at, words) => [...words].forEach((sign, index) => bytes.setUint8(at + index, sign.charCodeAt(0)));
  text(0, "RIFF");
  bytes.setUint32(4, 36 + 2 * samples.length, true);
  text(8, "WAVEfmt ");
  bytes.setUint32(16, 16, true);
  bytes.setUint16(20, 1, true); // plain numbers
  bytes.setUint16(22, 1, true); // channels
  bytes.setUint32(24, rate, true);
  bytes.setUint32(28, 2 * rate, true);
  bytes.setUint16(32, 2, true);
  bytes.setUint16(34, 16, true);
  text(36, "data");
  bytes.setUint32(40, 2 * samples.length, true);
  samples.forEach((value, index) => bytes.setInt16(44 + 2 * index, Math.max(-1, Math.min(1, value)) * 32767, true));
  return bytes.buffer;
}
