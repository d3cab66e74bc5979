"""Written rhythm: a line's exact beats as note values, dots, ties, tuplets, beams and rests, bar by bar.

Conventions
-----------
A note that cannot be one value, or that would hide the middle of the bar or a beat, is split into tied values; nothing
crosses a bar line. Where an onset lies off the halves, quarters and eighths of a beat, the shortest stretch of 1, 2 or
4 beats (in compound meters a pulse) around it becomes a tuplet: 3 in the time of 2, 5 of 4, 7 of 4, 9 of 8. Beams join
notes shorter than a quarter within a beat (in 7/8 within its twos and three); plain eighths in simple meters are
beamed by two beats. Common practice.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from math import lcm

from ..changes.meters import Meter
from ..errors import LineError
from ..names.spelling import NoteName, Pitch
from ..reading.numerals import signature_of
from .lines import Line, Note

_SHORTER_THAN_ANY = Fraction(1, 64)  # of the values below, in quarter-note beats
# Length in quarter-note beats: (note value as the denominator of a whole note, dots), longest first.
VALUES: dict[Fraction, tuple[int, int]] = {
    Fraction(4): (1, 0),
    Fraction(3): (2, 1),
    Fraction(2): (2, 0),
    Fraction(3, 2): (4, 1),
    Fraction(1): (4, 0),
    Fraction(3, 4): (8, 1),
    Fraction(1, 2): (8, 0),
    Fraction(3, 8): (16, 1),
    Fraction(1, 4): (16, 0),
    Fraction(3, 16): (32, 1),
    Fraction(1, 8): (32, 0),
    Fraction(1, 16): (64, 0),
}
_FINEST = 16  # parts of a quarter note that plain values reach
_NORMAL = {3: 2, 5: 4, 7: 4, 9: 8, 11: 8, 13: 8, 15: 8}


@dataclass(frozen=True, slots=True)
class Written:
    """One written note, chord or rest. `notes` are indexes into the line's notes (empty: a rest)."""

    notes: tuple[int, ...]
    onset_beats: Fraction
    duration_beats: Fraction
    value: int
    dots: int = 0
    tuplet: tuple[int, int] | None = None  # (3, 2): three in the time of two
    tuplet_starts: bool = False
    tuplet_ends: bool = False
    tied_from: bool = False  # continues the value before it
    tied_to: bool = False  # goes on in the value after it
    beam: int = 0  # 0: none; equal numbers within a bar are beamed together

    @property
    def is_rest(self) -> bool:
        return not self.notes


@dataclass(frozen=True, slots=True)
class _Piece:
    notes: tuple[int, ...]
    start: Fraction
    end: Fraction
    tied_from: bool = False
    tied_to: bool = False


@lru_cache(maxsize=16)  # a line is engraved at several widths, read aloud and exported: written out once for all
def written_bars(line: Line) -> tuple[tuple[Written, ...], ...]:
    """The line bar by bar; raises LineError for a rhythm that no note value or tuplet writes."""
    meter = line.chart.meter
    bar = meter.bar_beats
    touching: list[list[_Piece]] = [
        [] for _ in range(line.bar_count)
    ]  # pieces by the bars that they reach into
    for piece in _pieces(line):
        for number in range(int(piece.start // bar), -int(-piece.end // bar)):
            touching[number].append(piece)
    bars = []
    for number, pieces in enumerate(touching):
        inside = list(_within(pieces, number * bar, (number + 1) * bar))
        bars.append(tuple(_beamed(_written(inside, number * bar, meter), number * bar, meter)))
    return tuple(bars)


_CHORD_TONES = frozenset(["1", "3", "b3", "5", "b5", "7", "b7", "bb7"])


def as_published(line: Line) -> Line:
    """The line with the names that charts print: no double sharps or flats, and B♯, E♯, C♭, F♭ only where the key or
    the chord itself has them, so that the #9 of E7alt reads G and its #5 C.

    Common practice, no source.
    """
    signature = signature_fifths(line)
    notes = tuple(
        replace(note, pitch=Pitch.of_midi(note.pitch.midi, name))
        if (name := _published(note, signature)) != note.pitch.name
        else note
        for note in line.notes
    )
    return line if notes == line.notes else replace(line, notes=notes)


def _published(note: Note, signature: int) -> NoteName:
    name = note.pitch.name
    if abs(name.accidental) < 2 and (
        note.degree in _CHORD_TONES or name.accidental == _in_signature(name.letter, signature)
    ):
        return name
    return name.simple()


def signature_fifths(line: Line) -> int:
    """Sharps (positive) or flats (negative) of the key signature, seven at most; none without a key."""
    key = line.chart.key
    return 0 if key is None else max(-7, min(7, signature_of(key)))


def _pieces(line: Line) -> Iterator[_Piece]:
    """Notes struck together as one piece, gaps as rests, to the end of the last bar."""
    now = Fraction(0)
    index, notes = 0, line.notes
    while index < len(notes):
        group = [index]
        while (
            index + 1 < len(notes) and notes[index + 1].onset_beats == notes[group[0]].onset_beats
        ):
            index += 1
            group.append(index)
        first = notes[group[0]]
        if first.onset_beats > now:
            yield _Piece((), now, first.onset_beats)
        following = notes[index + 1] if index + 1 < len(notes) else None
        goes_on = (
            following is not None
            and following.marked("tie") is not None
            and following.onset_beats == first.end_beats
        )
        yield _Piece(
            tuple(group),
            first.onset_beats,
            first.end_beats,
            first.marked("tie") is not None,
            goes_on,
        )
        now = first.end_beats
        index += 1
    if now < line.length_beats:
        yield _Piece((), now, line.length_beats)


def _within(pieces: Sequence[_Piece], start: Fraction, end: Fraction) -> Iterator[_Piece]:
    for piece in pieces:
        low, high = max(piece.start, start), min(piece.end, end)
        if low < high:
            sounding = bool(piece.notes)
            yield _Piece(
                piece.notes,
                low,
                high,
                sounding and (low > piece.start or piece.tied_from),
                sounding and (high < piece.end or piece.tied_to),
            )


def _written(pieces: list[_Piece], bar: Fraction, meter: Meter) -> Iterator[Written]:
    """Plain stretches and tuplets in turn."""
    end = bar + meter.bar_beats
    now = bar
    while now < end:
        until, parts = _stretch(pieces, now, bar, end, meter)
        for piece in _within(pieces, now, until):
            if parts == 1:
                yield from _plain(piece, bar, meter)
        if parts > 1:
            yield from _tuplet(list(_within(pieces, now, until)), now, parts)
        now = until


def _stretch(
    pieces: Sequence[_Piece], now: Fraction, bar: Fraction, end: Fraction, meter: Meter
) -> tuple[Fraction, int]:
    """Where the next stretch ends and the odd number it is divided by (1: plain values)."""
    edges = sorted({edge for piece in pieces for edge in (piece.start, piece.end)})
    odd = [edge for edge in edges if now < edge < end and not _is_plain(edge - bar)]
    if not odd:
        return end, 1
    # A tuplet begins on the beat in which the first odd edge lies: what is before it is plain.
    pulse = meter.pulse_beats
    start = bar + (odd[0] - bar) // pulse * pulse
    if start > now:
        return start, 1
    # It takes one beat, or as many as it needs to come out even: triplet halves take two or four.
    for count in (1, 2, 4, 8):
        until = min(start + count * pulse, end)
        inside = [edge - start for edge in edges if start < edge < until]
        parts = _odd_part(lcm(*(edge.denominator for edge in inside)))
        is_cut_short = any(
            piece.start < until < piece.end and not _is_plain(piece.start - bar)
            for piece in pieces
            if piece.start > start
        )
        if _is_plain(until - bar) and parts in _NORMAL and not is_cut_short:
            return until, parts
    raise LineError(
        f"the rhythm at beat {odd[0]} cannot be written",
        value=str(odd[0]),
        where=f"bar {int(bar / meter.bar_beats) + 1}",
        expected="a tuplet of 3, 5, 7 or 9 within the bar",
    )


def _is_plain(after_bar_line: Fraction) -> bool:
    """Is this a moment that values without tuplets can reach?"""
    return _FINEST % after_bar_line.denominator == 0


def _odd_part(number: int) -> int:
    """What is left of a number when it is halved as often as it can be: halves need no tuplet."""
    return number // (number & -number)


def _plain(piece: _Piece, bar: Fraction, meter: Meter) -> Iterator[Written]:
    """One piece as tied plain values that keep the beats in sight."""
    now, first = piece.start, True
    while now < piece.end:
        length = next(
            value
            for value in VALUES
            if value <= piece.end - now and _readable(now - bar, value, meter)
        )
        value, dots = VALUES[length]
        last = now + length == piece.end
        yield Written(
            piece.notes,
            now,
            length,
            value,
            dots,
            tied_from=bool(piece.notes) and (not first or piece.tied_from),
            tied_to=bool(piece.notes) and (not last or piece.tied_to),
        )
        now, first = now + length, False


def _readable(at: Fraction, length: Fraction, meter: Meter) -> bool:
    """May a value of this length begin here in the bar without hiding a beat?"""
    end = at + length
    is_whole_bar = at == 0 and end == meter.bar_beats
    if is_whole_bar:
        return True
    if meter.uneven or meter.compound:
        from_beat_to_beat = {at, end} <= {*meter.beat_onsets, meter.bar_beats}
        return from_beat_to_beat or _is_in_one_beat(at, end, meter)
    has_a_middle = meter.beats % 2 == 0 and meter.beats > 2
    if has_a_middle and at < meter.bar_beats / 2 < end:
        return _may_cross_the_middle(at, length, meter)
    is_on_a_beat = at % meter.pulse_beats == 0
    return is_on_a_beat or _is_in_one_beat(at, end, meter) or _is_off_beat(at, length, meter)


def _is_in_one_beat(at: Fraction, end: Fraction, meter: Meter) -> bool:
    return _beat_number(at, meter) == _beat_number(end - _SHORTER_THAN_ANY, meter)


def _is_off_beat(at: Fraction, length: Fraction, meter: Meter) -> bool:
    """As long as a beat and from half of one to half of the next, as everybody reads it."""
    return length == meter.pulse_beats and at % (meter.pulse_beats / 2) == 0


def _may_cross_the_middle(at: Fraction, length: Fraction, meter: Meter) -> bool:
    """From the bar's first beat; or from the second, two beats long or to the bar's end."""
    if at == 0:
        return True
    two_beats, to_the_end = 2 * meter.pulse_beats, meter.bar_beats - at
    return at == meter.pulse_beats and length in (two_beats, to_the_end)


def _tuplet(pieces: list[_Piece], start: Fraction, parts: int) -> Iterator[Written]:
    """The pieces of one tuplet, each as tied values stretched to their written length."""
    normal = _NORMAL[parts]
    shape = (parts, normal)
    found: list[Written] = []
    for piece in pieces:
        now, left, first = piece.start, (piece.end - piece.start) * parts / normal, True
        while left:
            length = next((value for value in VALUES if value <= left), None)
            if length is None:
                raise LineError(
                    f"a note of {piece.end - piece.start} beats cannot be written",
                    value=str(piece.start),
                )
            value, dots = VALUES[length]
            left -= length
            found.append(
                Written(
                    piece.notes,
                    now,
                    length * normal / parts,
                    value,
                    dots,
                    shape,
                    tied_from=bool(piece.notes) and (not first or piece.tied_from),
                    tied_to=bool(piece.notes) and (bool(left) or piece.tied_to),
                )
            )
            now, first = now + length * normal / parts, False
    for index, one in enumerate(found):
        yield replace(one, tuplet_starts=index == 0, tuplet_ends=index == len(found) - 1)


def _beamed(written: Iterator[Written], bar: Fraction, meter: Meter) -> Iterator[Written]:
    """Number the beams: one for each beat, or for two beats of plain eighths (four in all, so never in 2/2).

    A bar of 3/8 is counted in one: it has one beam.
    """
    items = list(written)
    in_one = meter.beats == 3 and meter.unit >= 8
    beats = {
        index: 0 if in_one else _beat_number(item.onset_beats - bar, meter)
        for index, item in enumerate(items)
        if item.value >= 8 and not item.is_rest  # what has a flag can have a beam
    }
    joined_by_two = not meter.compound and not meter.uneven and meter.beats % 2 == 0
    if joined_by_two and meter.pulse_beats <= 1:
        mixed = {_pair_of(one, bar, meter) for one in items if not _is_plain_eighth(one)}
        beats = {
            index: beat if beat // 2 in mixed else beat // 2 * 2 for index, beat in beats.items()
        }
    numbers = _numbered(beats)
    for index, item in enumerate(items):
        yield replace(item, beam=numbers.get(index, 0))


def _pair_of(one: Written, bar: Fraction, meter: Meter) -> int:
    """In which two beats of the bar, from 0, a value begins."""
    return int((one.onset_beats - bar) / meter.pulse_beats) // 2


def _is_plain_eighth(one: Written) -> bool:
    return one.value == 8 and not one.dots and one.tuplet is None and bool(one.notes)


def _numbered(beats: Mapping[int, int]) -> dict[int, int]:
    """The number of the beam of each index, from 1: of neighbours in one beat; a note alone keeps its flag."""
    numbers: dict[int, int] = {}
    for one in sorted(beats):
        if beats.get(one + 1) == beats[one]:
            beam = numbers.get(one) or max(numbers.values(), default=0) + 1
            numbers |= {one: beam, one + 1: beam}
    return numbers


def _beat_number(at: Fraction, meter: Meter) -> int:
    """The number of the felt beat, from 0, in which a moment of the bar lies."""
    return bisect_right(meter.beat_onsets, at) - 1


def accidentals(line: Line, bar: Sequence[Written]) -> dict[tuple[int, int], str | None]:
    """(written index, note index) to the accidental to print: "" for none, "n" for a natural, else "#", "bb" ...

    An accidental holds for its line or space to the end of the bar; a tied continuation prints none.
    """
    signature = signature_fifths(line)
    state: dict[tuple[str, int], int] = {}
    found: dict[tuple[int, int], str | None] = {}
    for number, item in enumerate(bar):
        for index in item.notes:
            pitch = line.notes[index].pitch
            place = (pitch.name.letter, pitch.octave)
            current = state.get(place, _in_signature(pitch.name.letter, signature))
            sign = pitch.name.accidental
            if item.tied_from or sign == current:
                found[number, index] = None
            else:
                found[number, index] = pitch.name[1:] or "n"
            if not item.tied_from:
                state[place] = sign
    return found


def _in_signature(letter: str, fifths: int) -> int:
    """1, 0 or -1: what the signature makes of a letter."""
    natural = NoteName(letter).fifths
    if fifths > 0:
        return 1 if natural + 1 < fifths else 0
    return -1 if natural >= 6 + fifths and fifths < 0 else 0
