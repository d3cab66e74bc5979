// Rows of numbers: medians, quantiles, running filters, and samples brought to another rate.
// At its ends a row goes on as in a mirror, each end twice, as scipy.ndimage has it ("reflect").
const SIGMAS = 4; // of a Gaussian that count
const SIDE = 10, BETA = 5; // of the filter between two rates: its zeros to a side, and Kaiser's window (as scipy has it)

export const mean = (row) => row.reduce((sum, one) => sum + one, 0) / row.length;

export function deviation(row) {
  const middle = mean(row);
  return Math.sqrt(mean(row.map((one) => (one - middle) ** 2)));
}

// Between the two values around it, as numpy has it.
export function quantile(row, share) {
  const sorted = Float64Array.from(row).toSorted(), place = share * (sorted.length - 1), low = Math.floor(place);
  return sorted[low] + (place - low) * ((sorted[low + 1] ?? sorted[low]) - sorted[low]);
}

export const median = (row) => quantile(row, 0.5);

function mirrored(row, at) {
  const long = 2 * row.length, inside = ((at % long) + long) % long;
  return row[inside < row.length ? inside : long - 1 - inside];
}

export function gaussian(row, sigma) {
  const radius = Math.floor(SIGMAS * sigma + 0.5);
  const weights = Array.from({ length: 2 * radius + 1 }, (_, at) => Math.exp(-0.5 * ((at - radius) / sigma) ** 2));
  const whole = weights.reduce((sum, one) => sum + one, 0);
  return Float64Array.from(row, (_, at) => weights.reduce((sum, one, step) => sum + one * mirrored(row, at + step - radius), 0) / whole);
}

// The median of the `size` (odd) values around each: a sorted window from which the oldest goes as the next comes.
export function runningMedian(row, size) {
  const half = size >> 1, window = Array.from({ length: size }, (_, at) => mirrored(row, at - half)).toSorted((one, two) => one - two);
  return Float64Array.from(row, (_, at) => {
    const found = window[half];
    window.splice(placeIn(window, mirrored(row, at - half)), 1);
    const next = mirrored(row, at + half + 1);
    window.splice(placeIn(window, next), 0, next);
    return found;
  });
}

function placeIn(sorted, value) {
  let low = 0, high = sorted.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (sorted[middle] < value) low = middle + 1; else high = middle;
  }
  return low;
}

// Whether each value is the highest of those up to `near` places away.
export function isHighest(row, near) {
  return Array.from(row, (value, at) => {
    for (let step = -near; step <= near; step += 1) if (mirrored(row, at + step) > value) return false;
    return true;
  });
}

// Samples at another rate: between two zeros of silence through a filter, of which only what is needed is worked out.
export function atRate(samples, from, to) {
  if (from === to) return Float32Array.from(samples);
  const common = divisor(from, to), up = to / common, down = from / common, filter = lowpass(up, down), half = filter.length >> 1;
  return Float32Array.from({ length: Math.ceil(samples.length * up / down) }, (_, out) => {
    const at = out * down, last = Math.min(samples.length - 1, Math.floor((at + half) / up));
    let sum = 0;
    for (let one = Math.max(0, Math.ceil((at - half) / up)); one <= last; one += 1) sum += samples[one] * filter[half + at - one * up];
    return sum;
  });
}

function divisor(one, two) {
  return two ? divisor(two, one % two) : one;
}

function lowpass(up, down) {
  const half = SIDE * Math.max(up, down), cut = 1 / Math.max(up, down);
  const shape = Float64Array.from({ length: 2 * half + 1 }, (_, at) => {
    const place = at - half, x = Math.PI * cut * place;
    return (place ? Math.sin(x) / x : 1) * bessel(BETA * Math.sqrt(1 - (place / half) ** 2));
  });
  const whole = shape.reduce((sum, one) => sum + one, 0);
  return shape.map((one) => one / whole * up);
}

function bessel(x) { // modified, of order 0, by its series
  let sum = 1, term = 1;
  for (let order = 1; term > 1e-12 * sum; order += 1) {
    term *= (x / (2 * order)) ** 2;
    sum += term;
  }
  return sum;
}
