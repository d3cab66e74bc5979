"""What takes long in a pack, kept in the process while the same is asked again, as for a lesson that is watched.

All of it follows from its arguments and from who reads, which therefore stands among them. Sounds are kept for other
processes too (play.sound_cache): words are mended more often than notes.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

from theorylib.playing.lines import Line

from ..draw.print_score import PrintedSystem, printed_systems
from ..draw.screen import ScreenScore, Staves, Width, screen_scores
from ..play.bank import Bank, Want, bank_of
from ..play.sound_cache import kept
from ..reader import Reader, reader

_LINES, _BANKS = 64, 4  # of a lesson or two


def screen_of(line: Line, moments: Sequence[Fraction], staves: Staves,
              widths: Sequence[Width]) -> tuple[ScreenScore, ...]:
    """screen_scores."""
    return _screen(line, tuple(moments), staves, tuple(widths), reader())


def print_of(line: Line, width_mm: float, scale: float, staves: Staves) -> tuple[PrintedSystem, ...]:
    """printed_systems."""
    return _print(line, width_mm, scale, staves, reader())


def sounds_of(lengths: Mapping[Want, float], soundfont: Path | str | None) -> Bank:
    """bank_of; with a SoundFont of the teacher's own nothing is kept, for its file may change."""
    if soundfont is not None:
        return bank_of(dict(lengths), soundfont=soundfont)
    return _sounds(tuple(sorted(lengths.items())))


@lru_cache(maxsize=_LINES)
def _screen(line: Line, moments: tuple[Fraction, ...], staves: Staves, widths: tuple[Width, ...],
            who: Reader) -> tuple[ScreenScore, ...]:
    return screen_scores(line, moments, staves, widths)


@lru_cache(maxsize=_LINES)
def _print(line: Line, width_mm: float, scale: float, staves: Staves, who: Reader) -> tuple[PrintedSystem, ...]:
    return tuple(printed_systems(line, width_mm=width_mm, scale=scale, staves=staves))


@lru_cache(maxsize=_BANKS)
def _sounds(lengths: tuple[tuple[Want, float], ...]) -> Bank:
    wants = [want for want, _ in lengths]

    def made() -> dict[str, bytes]:
        bank = bank_of(dict(lengths))
        return {"flac": bank.flac, "places": json.dumps([bank.places[want] for want in wants]).encode()}

    parts = kept(f"a page's bank {lengths}", made)
    places = map(tuple, json.loads(parts["places"]))
    return Bank(parts["flac"], dict(zip(wants, places, strict=True)))
