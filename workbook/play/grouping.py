"""How a bar is felt: its pulses in groups (3+2, 2+2+3), and which pulse of a style's row each of them plays.

A row of a style has four pulses as a rule: the first a strong one, the second a backbeat, and so on. A group of four
plays it whole, one of two its first half; a group of three its first pulse, a weak one, and its second. In odd meters
of eighths a group is one pulse, of two eighths or of three. The groups of a meter are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from theorylib.changes.meters import Meter
from theorylib.errors import VampError

TIMEKEEPERS = ("hat", "ride", "shaker", "sweep")
BASS_ROW, COMP_ROW = "bass", "comp"
# Beats of a bar: the groups in which it is felt, where they are not fours with what is left.
_ODD = {5: (3, 2), 9: (4, 3, 2), 13: (4, 4, 3, 2), 17: (4, 4, 4, 3, 2)}


class GroupError(VampError):
    """Groups that do not make the bar."""


@dataclass(frozen=True, slots=True)
class Pulse:
    """One pulse as it is felt: where it begins in the bar, how long it is, and whether a group begins with it.

    `row` is the pulse of a row of four that it plays (None: a weak one between the first and the second).
    """

    onset_beats: Fraction
    length_beats: Fraction
    row: int | None
    leads: bool


def groups_of(meter: Meter) -> tuple[int, ...]:
    """The groups of a bar, in its pulses or, in odd meters of eighths, in eighths.

    >>> groups_of(Meter(5, 4)), groups_of(Meter(7, 8)), groups_of(Meter(12, 8))
    ((3, 2), (2, 2, 3), (4,))
    """
    if of_eighths(meter):
        if meter.uneven:  # the twos and threes that its chart says, or the usual ones
            return tuple(int(beat / meter.pulse_beats) for beat in meter.felt_beats)
        return (2,) * (meter.beats // 2)
    count = meter.pulses
    if count in _ODD:
        return _ODD[count]
    rest = count % 4
    return (4,) * (count // 4) + ((rest,) if rest else ())


def of_eighths(meter: Meter) -> bool:
    """Is it a meter whose groups are pulses themselves: 5/8, 7/8, 8/8?"""
    return meter.unit >= 8 and not meter.compound and meter.beats > 3


def read_groups(text: str, meter: Meter) -> tuple[int, ...]:
    """Groups as people write them ("2+2+3"); "" gives the meter's own. Raises GroupError."""
    if not text:
        return groups_of(meter)
    parts = [part.strip() for part in text.split("+")]
    whole = meter.beats if of_eighths(meter) else meter.pulses
    most = 3 if of_eighths(meter) else 4
    sizes = tuple(int(part) for part in parts if part in tuple("1234"))
    if len(sizes) != len(parts) or sum(sizes) != whole or max(sizes) > most:
        usual = "+".join(map(str, groups_of(meter)))
        raise GroupError(f"“{text:.40}” does not make a bar of {meter}", value=text,
                         expected=f"groups to {most} that make {whole}, such as {usual}")
    return sizes


@lru_cache(maxsize=64)
def pulses_felt(meter: Meter, groups: tuple[int, ...], row_pulses: int) -> tuple[Pulse, ...]:
    """The pulses of a bar, for rows of so many pulses."""
    if of_eighths(meter):
        unit = meter.pulse_beats
        starts = [sum(groups[:number]) * unit for number in range(len(groups))]
        rows = _rows_of(len(groups), row_pulses)
        return tuple(Pulse(start, size * unit, row, True)
                     for start, size, row in zip(starts, groups, rows, strict=True))
    found: list[Pulse] = []
    for size in groups:
        for place, row in enumerate(_rows_of(size, row_pulses)):
            found.append(Pulse(len(found) * meter.pulse_beats, meter.pulse_beats, row, place == 0))
    return tuple(found)


def _rows_of(size: int, row_pulses: int) -> tuple[int | None, ...]:
    """Which pulses of a row a group of a size plays."""
    if size == 3:
        return (0, 1, 2) if row_pulses == 3 else (0, None, 1)
    return tuple(place % row_pulses for place in range(size))


@lru_cache(maxsize=4096)
def steps_of(meter: Meter, groups: tuple[int, ...], steps: int, row: str,
             kind: str) -> tuple[tuple[Fraction, str], ...]:
    """(beat within the bar, sign) of each step of a row; `kind` is a drum's name, BASS_ROW or COMP_ROW."""
    pulses = row.split()
    found: list[tuple[Fraction, str]] = []
    for pulse in pulses_felt(meter, groups, len(pulses)):
        signs = _weak(pulses, kind) if pulse.row is None else pulses[pulse.row]
        if of_eighths(meter):
            step = 2 * meter.pulse_beats / steps
            signs = _stretched(signs, int(pulse.length_beats / step), kind)
        else:
            step = pulse.length_beats / steps
        found += [(pulse.onset_beats + number * step, sign) for number, sign in enumerate(signs)]
    return tuple(found)


@lru_cache(maxsize=2048)
def distinct(meter: Meter, groups: tuple[int, ...], steps: int, rows: tuple[str, ...], kind: str) -> tuple[str, ...]:
    """Of alternative rows those that differ in this meter: a short bar leaves out what tells some apart."""
    found = {steps_of(meter, groups, steps, row, kind): row for row in reversed(rows)}
    return tuple(row for row in rows if row in found.values())


def _weak(pulses: Sequence[str], kind: str) -> str:
    """The pulse between the first and the second of a group of three."""
    first, second = pulses[0], pulses[1 % len(pulses)]
    if kind in TIMEKEEPERS:
        return first.replace("X", "x")
    if kind == BASS_ROW:
        return second if second[0] not in ".-" else "-" * len(first)
    if kind == COMP_ROW:
        return ("-" if first[-1] != "." else ".") * len(first)
    third = pulses[2 % len(pulses)]  # what is loud there is for the middle of a bar of four
    return third.replace("X", ".")


def _stretched(signs: str, count: int, kind: str) -> str:
    """The steps of a pulse made `count`: a longer one goes on as it ends, a shorter one is cut."""
    last = signs[-1]
    more = last if kind in TIMEKEEPERS else "-" if kind in (BASS_ROW, COMP_ROW) and last != "." else "."
    return (signs + more * count)[:count]

