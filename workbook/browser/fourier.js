// The magnitudes of a spectrum by the fast Fourier transform (Cooley and Tukey, 1965), of a size that is a power of two.

// Gives a function from samples (fewer than `size`: the rest is silence) to the magnitudes of size / 2 + 1 bins, which it
// writes over the next time.
export function createFourier(size) {
  const re = new Float64Array(size), im = new Float64Array(size), found = new Float64Array(size / 2 + 1);
  const cos = Float64Array.from({ length: size / 2 }, (_, at) => Math.cos(2 * Math.PI * at / size));
  const sin = Float64Array.from({ length: size / 2 }, (_, at) => Math.sin(2 * Math.PI * at / size));
  const turned = reversed(size);

  function turn(half) { // joins halves of `half` bins to wholes
    const step = size / (2 * half);
    for (let begin = 0; begin < size; begin += 2 * half) {
      for (let low = begin, angle = 0; low < begin + half; low += 1, angle += step) {
        const high = low + half, real = re[high] * cos[angle] + im[high] * sin[angle];
        const imaginary = im[high] * cos[angle] - re[high] * sin[angle];
        re[high] = re[low] - real;
        im[high] = im[low] - imaginary;
        re[low] += real;
        im[low] += imaginary;
      }
    }
  }

  return (samples) => {
    im.fill(0);
    for (let at = 0; at < size; at += 1) re[turned[at]] = at < samples.length ? samples[at] : 0;
    for (let half = 1; half < size; half *= 2) turn(half);
    for (let bin = 0; bin <= size / 2; bin += 1) found[bin] = Math.sqrt(re[bin] ** 2 + im[bin] ** 2);
    return found;
  };
}

function reversed(size) { // each number with its bits in reverse
  const found = new Uint32Array(size);
  for (let at = 1; at < size; at += 1) found[at] = (found[at >> 1] >> 1) + (at & 1 ? size / 2 : 0);
  return found;
}
