"""The explorer's sounds: one small bank for every chord and line, and the backing of the changes over it.

The bank is the practice page's (play.bank), sampled every few half steps; the browser takes the nearest sample and
tunes it. Rendering takes seconds, so it is done beside everything else, and kept in the user's cache.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from theorylib.changes.charts import Chart

from ..play import bassist
from ..play.backing import BASS, COMP, DRUMS, Hit, backing
from ..play.band import EVEN
from ..play.bank import HATS, LONGEST_SECONDS, Bank, Want, bank_of, sample_seconds
from ..play.instruments import INSTRUMENTS
from ..play.performance import CLEAN
from ..play.sound_cache import kept
from ..play.style import DRUM_KEYS, SWEEP
from ..play.voice_leading import HIGHEST, LOWEST

PARTS = (COMP, BASS, DRUMS)  # of the backing, as the browser numbers them from 1; 0 is the line
GUITAR = range(31, 91, 3)    # MIDI numbers sampled, G1 to G6: a sample is tuned by a half step at most
Places = dict[str, list[list[float]]]  # by voice: [MIDI number, where it lies in the bank (play.bank)]
_STEP = 4                    # half steps between samples of the backing: two at most
_VELOCITY = {CLEAN: 95, BASS: 95, COMP: 75, DRUMS: 95}


def wants() -> dict[Want, float]:
    """Every sound of the bank, and the seconds that it lasts; what is no drum is held on by its loop."""
    pitches = {CLEAN: GUITAR, BASS: range(bassist.LOW, bassist.HIGH + _STEP, _STEP),
               COMP: range(LOWEST, HIGHEST + _STEP, _STEP), DRUMS: sorted(set(DRUM_KEYS.values()) - {DRUM_KEYS[SWEEP]})}
    found = [Want(voice, midi, _VELOCITY[voice]) for voice, midis in pitches.items() for midi in midis]
    return {want: sample_seconds(want, LONGEST_SECONDS) for want in found}


def bank_data() -> tuple[dict[str, Any], bytes]:
    """Where each sound lies in the bank, by voice as [MIDI number, start, length …]; and the bank as FLAC."""
    places, flac = _kept_bank()
    gains = {voice: INSTRUMENTS[voice].page_gain for voice in places}
    return {"places": places, "gains": gains, "parts": list(PARTS), "line": CLEAN, "chokes": list(HATS)}, flac


def _kept_bank() -> tuple[Places, bytes]:
    """The bank as an earlier process kept it, else rendered now."""
    lengths = wants()

    def made() -> dict[str, bytes]:
        bank = bank_of(lengths)
        return {"places": json.dumps(_by_voice(bank)).encode(), "flac": bank.flac}

    parts = kept(f"the explorer's bank {sorted(lengths.items())}", made)
    return json.loads(parts["places"]), parts["flac"]


def _by_voice(made: Bank) -> Places:
    places: Places = {}
    for want, place in sorted(made.places.items()):
        places.setdefault(want.voice, []).append([want.midi, *place])
    return places


def backing_data(chart: Chart) -> list[list[Any]]:
    """[start, end, part, MIDI number, loudness] of one pass of the backing, in swung beats."""
    return list(_hits(chart))


def _hits(chart: Chart) -> Iterator[list[Any]]:
    track = backing(chart, passes=1, band=EVEN)
    for hit in track.hits:
        if hit.midi == DRUM_KEYS[SWEEP] and hit.part == DRUMS:
            continue  # the explorer has a kit with sticks
        yield [float(hit.start_beats), float(hit.start_beats + hit.length_beats), PARTS.index(hit.part) + 1, hit.midi,
               _gain(hit)]


def _gain(hit: Hit) -> float:
    """A hit's share of the mix: its part's, and its loudness for its sample's, by the square of velocity."""
    return round(INSTRUMENTS[hit.part].page_gain * (hit.velocity / _VELOCITY[hit.part]) ** 2, 3)
