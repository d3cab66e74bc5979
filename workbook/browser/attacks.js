// Where something begins in a recording: the samples with which a pluck, a stroke or a click is there.
const BLOCK = 0.0025; // seconds
const BEFORE = 8; // blocks that it must stand out from
const RISES = 2, UNDER = 0.002; // how many times their power at least; and which share of the loudest near it
const AROUND = 200; // blocks on either side that count as near
const APART = 0.05; // seconds between two at least; of nearer ones the strongest counts
const BEGUN = 0.25; // of the block's highest value: there it begins

// The numbers of the samples, upwards. What changes from sample to sample is looked at, for there an attack is plainest.
export function attacksIn(channels, rate) {
  const size = Math.round(BLOCK * rate), power = powers(channels, size), near = highest(power);
  const found = [], strong = []; // samples, and the power with which each begins
  for (let block = 0; block < power.length; block += 1) {
    let before = 0;
    for (let back = 1; back <= BEFORE; back += 1) before = Math.max(before, power[block - back] ?? 0);
    if (power[block] <= RISES * before || power[block] <= UNDER * near(block)) continue;
    const at = begins(channels, block * size, size), isNear = found.length && at - found[found.length - 1] < APART * rate;
    if (isNear && power[block] <= strong[strong.length - 1]) continue;
    if (isNear) { found.pop(); strong.pop(); }
    found.push(at);
    strong.push(power[block]);
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
