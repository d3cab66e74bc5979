"""How fast the pulse goes: candidates by the flux's likeness to itself, and each one's rivals at simple ratios.

The autocorrelation of the flux is summed over multiples of a period and weighed by how common a pulse of that length
is: log-normal around PREFERRED, as Ellis (JNMR 36, 2007) and Parncutt (1994) have it, from memory.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from .spectra import FRAMES_A_SECOND, Flux

SLOWEST, FASTEST = 40.0, 260.0  # pulses a minute that are looked for
PREFERRED, SPREAD_OCTAVES = 112.0, 0.75
COARSE = 4                      # frames of the flux taken together
SAME = 0.04                     # tempos that lie nearer count as one
RIVALS = 4
_MULTIPLES = ((1, 1.0), (2, 1.0), (3, 0.6), (4, 1.0), (8, 0.6))
_RATIOS = (2.0, 0.5, 1.5, 2 / 3, 3.0, 1 / 3, 4 / 3, 0.75)


def coarse(flux: Any) -> Any:
    """The flux at a quarter of its frames, without its slow swell, in units of its own deviation."""
    from scipy.ndimage import gaussian_filter1d, uniform_filter1d

    smooth = gaussian_filter1d(flux, 2.0 * COARSE / 2)[::COARSE]
    rate = FRAMES_A_SECOND / COARSE
    risen = np.maximum(0, smooth - uniform_filter1d(smooth, int(1.0 * rate)))
    return risen / (np.std(risen) + 1e-9)


def tempos(flux: Flux) -> tuple[tuple[float, float], ...]:
    """(pulses a minute, share from 0 to 1) of the likeliest tempos, best first; RIVALS of them at most."""
    rate = FRAMES_A_SECOND / COARSE
    likeness = _likeness(coarse(flux.whole) + 0.5 * coarse(flux.low), int(16 * rate))
    every = np.geomspace(SLOWEST, FASTEST, 800)
    score = _score(likeness, every, rate)
    prior = np.exp(-0.5 * (np.log2(every / PREFERRED) / SPREAD_OCTAVES) ** 2)
    weighed = np.maximum(score, 0) * prior
    inner = weighed[1:-1]
    peaks = 1 + np.flatnonzero((inner > weighed[:-2]) & (inner >= weighed[2:]))
    if not len(peaks):
        return ()
    ranked = peaks[np.argsort(-weighed[peaks])]
    first = every[ranked[0]]
    related = [one for one in ranked if _related(every[one] / first)]
    found: list[int] = []
    for one in (ranked[0], *related, *ranked):
        if all(abs(every[one] / every[other] - 1) > SAME for other in found):
            found.append(int(one))
    shares = weighed[found] / weighed[found[0]]
    return tuple((_fine(likeness, float(every[one]), rate), float(min(1.0, share)))
                 for one, share in zip(found[:RIVALS], shares, strict=False))


def nearby(flux: Flux, tempo: float, within: float = 0.04) -> float:
    """The likeliest tempo within a share of the one that a person picked."""
    rate = FRAMES_A_SECOND / COARSE
    likeness = _likeness(coarse(flux.whole) + 0.5 * coarse(flux.low), int(16 * rate))
    near = tempo * np.linspace(1 - within, 1 + within, 161)
    return float(near[np.argmax(_score(likeness, near, rate))])


def _likeness(onsets: Any, longest: int) -> Any:
    """Autocorrelation up to `longest` frames, 1 at no shift, each shift by the frames it has."""
    from scipy.fft import irfft, rfft

    centred = onsets - onsets.mean()
    size = 1 << int(np.ceil(np.log2(2 * len(centred))))
    spectrum = rfft(centred, size)
    found = irfft(np.abs(spectrum) ** 2, size)[:min(longest, len(centred) // 2)]
    found /= len(centred) - np.arange(len(found))
    return found / (found[0] + 1e-12)


def _score(likeness: Any, tempos_: Any, rate: float) -> Any:
    lags = np.arange(len(likeness))
    total, weight = np.zeros(len(tempos_)), np.zeros(len(tempos_))
    for multiple, share in _MULTIPLES:
        at = 60 * rate / tempos_ * multiple
        inside = at < len(likeness) - 1
        total += share * np.where(inside, np.interp(at, lags, likeness), 0)
        weight += share * inside
    return total / np.maximum(weight, 1e-9)


def _related(ratio: float) -> bool:
    return any(abs(ratio / one - 1) < SAME for one in _RATIOS)


def _fine(likeness: Any, tempo: float, rate: float) -> float:
    """The tempo to a tenth or so: the summed likeness in steps of a two-thousandth."""
    near = tempo * np.linspace(0.97, 1.03, 121)
    return float(near[np.argmax(_score(likeness, near, rate))])
