// Where something begins in a recording: the samples with which a pluck, a stroke or a click is there.
const BLOCK = 0.0025; // seconds
const BEFORE = 8; // blocks that it must stand out from
const AROUND = 200; // blocks on either side that count as near
const APART = 0.05; // seconds between two at least; of nearer ones the strongest counts
const BEGUN = 0.25; // of the block's highest value: there it begins
// How many times the power of what stands before it at least, and which share of the loudest near it. What changes from
// sample to sample is looked at first, for there an attack is plainest; then what lies under some Hz, for a cymbal that
// rings on hides a chord, and a chord that rings on a bass.
const WAYS = [{ rises: 2, share: 0.002 }, { under: 1500, rises: 1.6, share: 0.02 }, { under: 300, rises: 1.6, share: 0.05 }];

// The numbers of the samples, upwards.
export function attacksIn(channels, rate) {
  let found = [];
  for (const { under, ...way } of WAYS) {
    const heard = under ? channels.map((samples) => lowOf(samples, under / rate)) : channels;
    const more = attacksOf(heard, rate, way).filter((at) => isFree(found, at, APART * rate));
    found = found.concat(more).toSorted((one, two) => one - two);
  }
  return found;
}

function attacksOf(channels, rate, { rises, share }) {
  const size = Math.round(BLOCK * rate), power = powers(channels, size), near = highest(power);
  const found = [], strong = []; // samples, and the power with which each begins
  for (let block = 0; block < power.length; block += 1) {
    let before = 0;
    for (let back = 1; back <= BEFORE; back += 1) before = Math.max(before, power[block - back] ?? 0);
    if (power[block] <= rises * before || power[block] <= share * near(block)) continue;
    const at = begins(channels, block * size, size), isNear = found.length && at - found[found.length - 1] < APART * rate;
    if (isNear && power[block] <= strong[strong.length - 1]) continue;
    if (isNear) { found.pop(); strong.pop(); }
    found.push(at);
    strong.push(power[block]);
  }
  return found;
}

// `found` is sorted upwards.
function isFree(found, at, apart) {
  let low = 0, high = found.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (found[middle] < at) low = middle + 1; else high = middle;
  }
  return !(at - found[low - 1] < apart) && !(found[low] - at < apart);
}

// What lies under a frequency, `share` of the rate: two filters of one pole.
function lowOf(samples, share) {
  const found = new Float32Array(samples.length), pace = 1 - Math.exp(-2 * Math.PI * share);
  let one = 0, two = 0;
  for (let at = 0; at < samples.length; at += 1) {
    one += pace * (samples[at] - one);
    two += pace * (one - two);
    found[at] = two;
  }
  return found;
}

const changeAt = (channels, at) => {
  let most = 0;
  for (const samples of channels) most = Math.max(most, Math.abs(samples[at] - (at ? samples[at - 1] : 0)));
  return most;
};

function powers(channels, size) {
  const found = new Float32Array(Math.floor(channels[0].length / size));
  for (const samples of channels) {
    for (let block = 0; block < found.length; block += 1) {
      let sum = 0;
      for (let at = Math.max(1, block * size); at < (block + 1) * size; at += 1) sum += (samples[at] - samples[at - 1]) ** 2;
      found[block] += sum / size;
    }
  }
  return found;
}

// The highest power near a block, by stretches of so many blocks.
function highest(power) {
  const tops = [];
  for (let at = 0; at < power.length; at += AROUND) tops.push(power.subarray(at, at + AROUND).reduce((top, one) => Math.max(top, one), 1e-12));
  return (block) => {
    const here = Math.floor(block / AROUND);
    return Math.max(tops[here - 1] ?? 0, tops[here], tops[here + 1] ?? 0);
  };
}

function begins(channels, from, size) {
  const end = Math.min(channels[0].length, from + 2 * size);
  let top = 0;
  for (let at = from; at < end; at += 1) top = Math.max(top, changeAt(channels, at));
  for (let at = from; at < end; at += 1) if (changeAt(channels, at) >= BEGUN * top) return at;
  return from;
}
