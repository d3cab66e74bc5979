// Where something is struck in a take, and which pitch each stroke added: the page's own hearing of what
// workbook/listen/spectra.py and strikes.py do, by the same numbers, which come with the page's data (`by`).
import { createFourier } from "./fourier.js";
import { bounded } from "./numbers.js";
import { gaussian, isHighest, quantile, runningMedian } from "./rows.js";

const LOUDER = 100; // by which a spectrum is raised before its logarithm
const LEAST = 1e-9;

// How much begins at each frame, `by.rate / by.hop` of them a second.
export function fluxOf(samples, by) {
  const { window, hop, lag } = by, frames = Math.floor(samples.length / hop) + 1, bands = bandsOf(by);
  const shape = Float64Array.from({ length: window }, (_, at) => 0.5 - 0.5 * Math.cos(2 * Math.PI * at / window));
  const fourier = createFourier(window), part = new Float64Array(window), found = new Float64Array(frames);
  const kept = []; // levels of the last frames
  for (let frame = 0; frame < frames; frame += 1) {
    const from = frame * hop - window / 2;
    for (let at = 0; at < window; at += 1) part[at] = shape[at] * (samples[from + at] ?? 0);
    const spectrum = fourier(part), levels = bands.map((band) => levelOf(band, spectrum, window));
    while (kept.length < lag) kept.push(levels);
    const before = kept.shift();
    kept.push(levels);
    const rise = levels.reduce((sum, level, band) => sum + Math.max(0, level - before[band]), 0);
    found[(frame - lag / 2 + frames) % frames] = rise / bands.length; // at its steepest between the two
  }
  return found;
}

function levelOf({ first, shares }, spectrum, window) {
  let sum = 0;
  for (let at = 0; at < shares.length; at += 1) sum += shares[at] * spectrum[first + at];
  return Math.log1p(LOUDER * sum / window);
}

// Triangles whose centres lie in equal ratios, as shares of the bins from a first one on; none is without a bin.
function bandsOf({ rate, window, bands, lowest_hz: low, highest_hz: high }) {
  const edge = (number) => low * (high / low) ** (number / (bands + 1)), hertz = (bin) => bin * rate / window;
  return Array.from({ length: bands }, (_, band) => {
    const [left, centre, right] = [edge(band), edge(band + 1), edge(band + 2)], nearest = Math.round(centre * window / rate);
    const shares = Float64Array.from({ length: window / 2 + 1 }, (_unused, bin) => {
      const share = Math.max(0, Math.min((hertz(bin) - left) / (centre - left), (right - hertz(bin)) / (right - centre)));
      return bin === nearest ? Math.max(share, 0.5) : share;
    });
    const first = shares.findIndex(Boolean), last = shares.findLastIndex(Boolean);
    return { first, shares: shares.subarray(first, last + 1) };
  });
}

// `seconds` and `strength` of each stroke, and its `salience` by semitone from `by.lowest` up, the best 1.
export function strikesOf(samples, flux, by) {
  const { seconds, strength } = peaksOf(flux, by), salience = saliencesOf(samples, seconds, by);
  const body = salience.map((row) => Math.max(0, ...row)), usual = body.length ? quantile(body, 0.75) : 1;
  return {
    seconds,
    strength: strength.map((one, at) => one * Math.sqrt(Math.min(1, body[at] / Math.max(usual, LEAST)))),
    salience: salience.map((row, at) => row.map((one) => one / Math.max(body[at], LEAST))),
  };
}

function peaksOf(flux, by) {
  const frames = by.rate / by.hop, smooth = gaussian(flux, by.smooth_frames), still = runningMedian(smooth, Math.floor(0.2 * frames) | 1);
  const risen = smooth.map((value, at) => value - still[at]), highest = isHighest(smooth, Math.floor(by.nearest_seconds * frames));
  const tops = [...risen.keys()].filter((at) => highest[at] && risen[at] > 0);
  if (!tops.length) return { seconds: [], strength: [] };
  const strong = quantile(tops.map((at) => risen[at]), 0.9);
  const kept = tops.filter((at) => risen[at] > by.least_share * strong && at > 0 && at < smooth.length - 1);
  const seconds = kept.map((at) => {
    const [left, middle, right] = smooth.subarray(at - 1, at + 2), bend = Math.min(left - 2 * middle + right, -LEAST);
    return (at + bounded(0.5 * (left - right) / bend, -0.5, 0.5)) / frames;
  });
  return { seconds, strength: kept.map((at) => Math.min(1, risen[at] / strong)) };
}

// What each spectrum has over the one just before, summed along the partials of each semitone.
function saliencesOf(samples, seconds, by) {
  const { rate, after_seconds: after, before_seconds: before } = by, long = by.pitch_window / rate;
  const comb = combOf(by), spectrum = createSpectrum(samples, by), added = new Float64Array(by.padded / 2 + 1);
  return seconds.map((start, number) => {
    const end = seconds[number + 1] ?? samples.length / rate;
    added.set(spectrum(start + after, Math.min(end - before, start + after + long)));
    spectrum(start - before - long, start - before).forEach((value, bin) => {
      added[bin] = Math.sqrt(Math.max(0, added[bin] - by.kept_share * value));
    });
    return comb.map((partials) => partials.reduce((sum, [weight, bins]) => sum + weight * Math.max(...bins.map((bin) => added[bin])), 0));
  });
}

function createSpectrum(samples, { rate, padded }) { // magnitudes of a stretch of at least 30 ms
  const fourier = createFourier(padded), nothing = new Float64Array(padded / 2 + 1);
  return (start, end) => {
    const first = Math.max(0, Math.round(start * rate));
    const last = Math.min(samples.length, Math.max(Math.round(end * rate), first + Math.floor(0.03 * rate)));
    const part = samples.subarray(first, Math.max(first, last)), count = part.length;
    if (count < 64) return nothing;
    return fourier(Float64Array.from(part, (one, at) => one * (0.5 - 0.5 * Math.cos(2 * Math.PI * at / (count - 1))))).map((one) => one / count);
  };
}

// Of each semitone its partials: [weight, bins nearby].
function combOf({ lowest, highest, partials, fall, beside_cents: beside, padded, rate }) {
  const cents = Array.from({ length: 7 }, (_, at) => beside * (at - 3) / 3);
  return Array.from({ length: highest - lowest + 1 }, (_, step) => Array.from({ length: partials }, (_unused, at) => {
    const hertz = 440 * 2 ** ((lowest + step - 69) / 12) * (at + 1);
    const bins = cents.map((one) => Math.min(padded / 2, Math.round(hertz * 2 ** (one / 1200) * padded / rate)));
    return [hertz < 0.45 * rate ? fall ** at : 0, bins];
  }));
}
