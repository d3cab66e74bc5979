// Slower or faster without a change of pitch: stretches of the sound as they are, joined where they fit each other.
//
// What is read runs at its own pace, so that pitch and attacks stay as they were; where it has gone too far ahead of the
// tempo or behind it, it jumps by whole periods, to the place that is most like what would have followed (after Verhelst
// and Roelands, ICASSP 1993: similarity, not phase). Before each attack it is put to its place, so that no beat comes
// early or late; nothing jumps over an attack, nor back to one.
import { bounded } from "./numbers.js";

// Seconds.
const FAR = 0.014; // ahead or behind, from which it jumps: twice that holds a period of any sound of a guitar or bass
const LEAST = 0.008; // a jump's length
const FADE = 0.012, QUICK = 0.005; // from one place to another: anywhere, and before an attack
const ALIKE = 0.016; // of sound that is compared
const GUARD = 0.0015; // before an attack
const NEAR = 0.0025; // by which an attack may miss its place where sounds then fit better
const WHOLE = 0.04; // from an attack on, that is played as it is
const SHARP = 0.018; // from an attack on, to which it never jumps back
const COARSE = 4; // samples taken together where likeness is sought first
const JUST = 0.001; // an attack that comes so near its place by itself is left alone

// `channels` are arrays of samples, `rate` of them a second; `attacks` the numbers of those with which something begins.
export function createStretch({ channels, rate, attacks }) {
  const count = channels[0].length, coarse = coarseOf(channels), samples = (seconds) => Math.round(seconds * rate);
  const fade = samples(FADE), quick = samples(QUICK), guard = samples(GUARD), alike = samples(ALIKE);
  let read = 0, place = 0, speed = 1; // the next sample, and where the tempo is by now
  let last = -Infinity, next = 0; // the attack that was played, and the number of the one to come
  let made = []; // pieces that were not taken yet

  // From the sample `from` on, which comes after `lead` samples: what leads to it is played as it is.
  function start(from, at, lead = 0) {
    read = Math.round(from) - lead;
    place = from - lead * at;
    speed = at;
    made = [];
    next = attacks.findIndex((one) => one >= read + quick + guard);
    if (next < 0) next = attacks.length;
    last = next > 0 ? attacks[next - 1] : -Infinity;
  }

  // So many samples more, of each channel.
  function take(wanted) {
    while (made.reduce((sum, [one]) => sum + one.length, 0) < wanted) step();
    const found = channels.map(() => new Float32Array(wanted));
    let at = 0;
    while (at < wanted) {
      const [piece] = made, length = Math.min(wanted - at, piece[0].length);
      piece.forEach((samples_, channel) => found[channel].set(samples_.subarray(0, length), at));
      if (length === piece[0].length) made.shift(); else made[0] = piece.map((one) => one.subarray(length));
      at += length;
    }
    return found;
  }

  function put(piece) {
    made.push(piece);
    place += piece[0].length * speed;
  }

  const LONGEST = samples(0.25);

  // One run as it is, then one join; whichever is due first: an attack, or a tempo that has gone too far away.
  function step() {
    const attack = attacks[next] ?? Infinity, edge = attack - guard - quick; // what is read on must not reach the attack
    if (read > attack - guard) { passed(); return; }
    const toAttack = Math.max(0, Math.floor((attack - place) / speed) - quick - guard), isSoon = toAttack <= fade;
    if (isSoon) {
      straight(Math.min(toAttack, edge - read));
      putToPlace(attack);
      return;
    }
    const due = Math.max(0, Math.min(attack - guard - fade - read, farIn())), run = Math.min(due, toAttack - fade, LONGEST);
    straight(run);
    if (run === due) jump(attack - guard - 2 * fade);
  }

  function passed() { // an attack, where there was no room to wait for its time
    last = attacks[next];
    next += 1;
  }

  function farIn() {
    if (speed === 1) return Infinity;
    const ahead = speed < 1 ? read - place : place - read, left = (samples(FAR) - ahead) / Math.abs(1 - speed);
    return Math.max(0, Math.ceil(left), last + samples(WHOLE) - read);
  }

  function straight(length) {
    if (length <= 0) return;
    put(channels.map((one) => cut(one, read, length)));
    read += length;
  }

  // An attack is to come where the tempo has it: from here on it is read from as long before it.
  function putToPlace(attack) {
    const wanted = attack - Math.round((attack - place) / speed);
    passed();
    if (Math.abs(read - wanted) <= samples(JUST)) return;
    const length = bounded(attack - guard - wanted, 1, quick);
    join(likest(wanted - samples(NEAR), Math.min(wanted + samples(NEAR), attack - guard - length), wanted), length);
  }

  function jump(stop) {
    const far = samples(FAR), least = samples(LEAST), slow = speed < 1;
    const early = Math.round(slow ? Math.max(place - far, last + samples(SHARP)) : Math.max(place - far / 2, read + least));
    const late = Math.round(Math.min(slow ? Math.min(place + far / 2, read - least) : place + far, stop));
    if (late < early) straight(least); // no room: it goes on, and an attack comes as it may
    else join(likest(early, late, bounded(place, early, late)), fade);
  }

  function join(to, length) {
    put(channels.map((one) => {
      const before = cut(one, read, length), after = cut(one, to, length);
      return before.map((value, index) => value + (after[index] - value) * (0.5 - 0.5 * Math.cos(Math.PI * (index + 0.5) / length)));
    }));
    read = to + length;
  }

  // The place between two from which on it sounds most like what would come now; of equals the one nearest `middle`.
  function likest(early, late, middle) {
    const from = (value) => Math.round(value / COARSE);
    const near = best(coarse, from(read), [from(early), Math.max(from(early), from(late)), from(middle)], from(alike)) * COARSE;
    return best(channels, read, [Math.max(early, near - COARSE), Math.min(late, near + COARSE), bounded(near, early, late)], alike);
  }

  return { start, take, place: () => place };

  function cut(one, from, length) {
    if (from >= 0 && from + length <= count) return one.slice(from, from + length);
    const found = new Float32Array(length);
    for (let index = Math.max(0, -from); index < Math.min(length, count - from); index += 1) found[index] = one[from + index];
    return found;
  }
}

const EQUAL = 1e-6;

function best(channels, here, [early, late, middle], length) {
  let found = middle, most = likeness(channels, here, middle, length);
  for (let at = early; at <= late; at += 1) {
    const like = likeness(channels, here, at, length);
    const isNearer = Math.abs(at - middle) < Math.abs(found - middle);
    if (like > most + EQUAL || (isNearer && like > most - EQUAL)) { most = Math.max(most, like); found = at; }
  }
  return found;
}

function likeness(channels, one, other, length) {
  let product = 0, power = 1e-9;
  for (const samples of channels) {
    const low = Math.max(0, -one, -other), high = bounded(samples.length - Math.max(one, other), 0, length);
    for (let index = low; index < high; index += 1) {
      const value = samples[other + index];
      product += samples[one + index] * value;
      power += value * value;
    }
  }
  return product / Math.sqrt(power);
}

function coarseOf(channels) {
  const count = Math.ceil(channels[0].length / COARSE), found = new Float32Array(count);
  for (const samples of channels) {
    for (let index = 0; index < samples.length; index += 1) found[(index / COARSE) | 0] += samples[index];
  }
  return [found];
}
