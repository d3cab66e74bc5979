"""A lesson moved to another key or another neck: its choices changed, what the kit wrote made anew, the rest by rule.

Only what the teacher wrote is moved by rule (by_rule.py). A lesson of an earlier kit, whose choices stand in several
cells, is moved by rule as a whole.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from statistics import mode
from typing import Any

from theorylib.changes.chart_text import print_bars, print_tempo
from theorylib.changes.charts import Chart
from theorylib.errors import VampError, shown
from theorylib.names.scales import Scale
from theorylib.names.spelling import Interval, NoteName
from theorylib.necks.tunings import STANDARD, Tuning

from ..lesson.choices import INJECTED, PARAMETERS, parsed
from ..lesson.chosen import ALL_NAMES, has_choices, read_choices, with_choices, with_injected
from ..lesson.door import LessonError
from ..lesson.lesson import Lesson, as_lesson
from ..lesson.names import frets_in, string_frets_in
from ..lesson.prose import pair_key
from ..lesson.refreshing import aims_are_ours, refreshed
from ..lesson.saved import Cell
from ..lesson.sections import Plan, plan_of
from ..lesson.written import is_untouched
from .by_rule import Move, fret_numbers, stays_behind

LOWEST, HIGHEST = 1, 17  # frets between which a lesson's positions may come to lie
OCTAVE = 12              # a hand that would stand above it goes down instead
_CLOSING = re.compile(r"(?<!\s)(\s++#++)?\s*+$")  # signs that may close a heading
_NEAR = (0, 1, -1, 2, -2)
Notebook = Lesson | Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Target:
    """Where a lesson goes: a key or a tonic ("A dorian", "Ab"), a tuning, a range of tempos; empty leaves it as it is.

    The changes are taken at the end of the range, which is what the practice works up to.
    """

    key: str = ""
    tuning: str = ""
    tempos: tuple[int, int] | None = None

    def __bool__(self) -> bool:
        return bool(self.key or self.tuning or self.tempos)


@dataclass(frozen=True, slots=True)
class _Stand:
    """Where a lesson stands: its key, its home, its chart and its neck; `plan` where one cell holds its choices."""

    key: Scale
    home: Scale
    chart: Chart
    tuning: Tuning
    plan: Plan | None = None


def _stand_of(lesson: Lesson) -> _Stand:
    """Raises LessonError where a lesson says neither key nor changes."""
    if has_choices(lesson):
        plan = plan_of(*read_choices(lesson))
        home = plan.read.homes[0]
        return _Stand(pair_key(plan.read, home) or home.key, home.scale, plan.chart, plan.choices.tuning, plan)
    charts = [chart for _, chart in lesson.charts]
    key, home_scale = lesson.about.key_scale, lesson.about.home_scale
    if key is None or home_scale is None or not charts:
        raise LessonError("the lesson names no key and shows no chart, so that it cannot be moved")
    return _Stand(key, home_scale, charts[0], _tuning_of(lesson))


def _tuning_of(lesson: Lesson) -> Tuning:
    if has_choices(lesson):
        return read_choices(lesson)[1].tuning
    text = lesson.choices.get("tuning")
    return Tuning.parse(str(text)) if text else STANDARD


def interval_to(notebook: Notebook, key: str) -> Interval:
    """How far a lesson's music moves to get to a key; raises LessonError for a key of another kind."""
    stand = _stand_of(as_lesson(notebook))
    own, home = stand.key, stand.home
    wanted, kinds = key.strip(), {own.kind: own, home.kind: home}
    try:
        tonic, start = NoteName(wanted), home
    except VampError:
        scale = Scale.parse(wanted)
        if scale.kind not in kinds:
            said = home.pretty if home == own else f"{home.pretty} ({own.pretty})"
            raise LessonError(f"the lesson is in {said} and cannot be moved to {scale.pretty}",
                              value=key, expected=f"a tonic such as {scale.tonic}, or its {home.kind} scale") from None
        tonic, start = scale.tonic, kinds[scale.kind]
    semitones = (tonic.pitch_class - start.tonic.pitch_class) % 12
    fifths = tonic.fifths - start.tonic.fifths
    if abs(own.parent.tonic.fifths + fifths) <= 7:  # the spelling asked for, where it is a key that people write
        return Interval.of_fifths(fifths)
    return stand.chart.interval_to(semitones)


def all_keys(notebook: Notebook) -> list[str]:
    """The twelve tonics of a lesson's home scale, upward from its own."""
    stand = _stand_of(as_lesson(notebook))
    return [str(stand.home.tonic.up(stand.chart.interval_to(semitones)).simple()) for semitones in range(12)]


def hand_shifts(notebook: Notebook, target: Target) -> list[int]:
    """By how many frets the hand may move to play the same shapes, the nearest first; never empty.

    Raises LessonError where the lesson's frets leave no room.
    """
    if not target.key and not target.tuning:
        return [0]
    lesson = as_lesson(notebook)
    semitones = interval_to(lesson, target.key).semitones if target.key else 0
    base = (semitones - _strings_moved(lesson, target)) % 12
    frets = [fret for fret in _frets_of(lesson) if fret > 0]
    low, high = min(frets, default=5), max(frets, default=5)
    named = any(string_frets_in(words) for _, words in lesson.prose)
    ways = _NEAR[:1] if named else _NEAR  # a place that the prose names must stay in its shape
    octaves = sorted((base - 12, base, base + 12), key=lambda shift: (low + shift > OCTAVE, abs(shift)))
    found = [octave + near for near in ways for octave in octaves
             if low + octave + near >= LOWEST and high + octave + near <= HIGHEST]
    if not found:
        raise LessonError(f"frets {low} to {high} cannot move by {base} or {base - 12}", value=str(target),
                          expected=f"positions from {LOWEST} to {HIGHEST}")
    return found


def moved(notebook: Notebook, target: Target, frets: int) -> Lesson:
    """The lesson rewritten for a target, the hand moved by so many frets; raises LessonError where it has no room for
    a parameter or its prose names places that the new neck does not have."""
    lesson = as_lesson(notebook)
    interval = interval_to(lesson, target.key) if target.key else Interval(0, 0)
    track = lesson.choices.get("track")
    if track and interval != Interval(0, 0):
        raise LessonError(f"the recording {shown(track)} stays in its key", value=target.key,
                          expected="the lesson in the key of its recording")
    for cell in lesson.cells:
        asked = cell.is_code and not is_untouched(cell)  # the kit's own say what they stand in
        call, word = stays_behind(cell.source, bool(target.key), bool(target.tuning)) if asked else ("", "")
        if call:
            raise LessonError("a phrase does not move with the lesson", value=call,
                              where=f"cell {cell.number}", expected=f"{word}= in {shown(call)}")
    octaves = round((frets + _strings_moved(lesson, target) - interval.semitones) / 12)
    if target.tuning:
        _same_places(lesson, target)
    if has_choices(lesson):
        stand = _stand_of(lesson)
        move = Move(interval, frets, target.tempos, stand.chart.tempo, octaves)
        new = refreshed(with_choices(lesson, _values(stand, target, move))).lesson
        return _by_rule(new, move, stand.home.up(interval) if target.key else None)
    move = Move(interval, frets, target.tempos, lesson.about.tempo_bpm, octaves)
    return _of_earlier_kit(lesson, target, move)


# -- by its choices ----------------------------------------------------------------------------------------------------
def _values(stand: _Stand, target: Target, move: Move) -> dict[str, Any]:
    """The choices that a move changes."""
    plan = stand.plan
    assert plan is not None
    values: dict[str, Any] = {}
    if target.key:
        chart = plan.chart.up(move.interval)
        bars = list(print_bars(chart.bars))
        values["changes"] = bars[0] if len(bars) == 1 else "\n".join(["", *bars, ""])
        values["key"] = str(chart.key)
        values["title"] = f"{move.prose(plan.choices.title)} in {stand.home.up(move.interval).pretty}"
        if plan.choices.phrase:
            values["up"] = plan.choices.up + move.interval.semitones + 12 * move.octaves
    if target.tuning:
        tuning = _new_tuning(stand.tuning, target)
        values |= {"tuning": tuning.with_capo(0).name, "capo": tuning.capo}
    if target.key or target.tuning:
        values["position"] = plan.position + move.frets
    if target.tempos:
        tempo = print_tempo(move.tempo(plan.chart.tempo))
        values["tempo"] = int(tempo) if tempo.isdecimal() else tempo
    return values


def _by_rule(lesson: Lesson, move: Move, home: Scale | None) -> Lesson:
    """What the kit did not write moved by rule; a title of the teacher's own says the new `home`."""
    def words(cell: Cell) -> str:
        if is_untouched(cell):
            return cell.source
        if cell.is_code:
            return move.code(cell.source, ALL_NAMES if {PARAMETERS, INJECTED} & set(cell.tags) else ())
        return move.prose(cell.source) if cell.is_text else cell.source

    new = lesson.with_sources({cell.number: words(cell) for cell in lesson.cells})
    if home is not None and not any(cell.source.startswith("# ") and is_untouched(cell) for cell in lesson.cells):
        new = _with_heading(new, home)
    if aims_are_ours(lesson):
        return new
    return new.with_about(aims=[move.prose(aim) for aim in lesson.about.aims])


# -- of an earlier kit -------------------------------------------------------------------------------------------------
def _of_earlier_kit(lesson: Lesson, target: Target, move: Move) -> Lesson:
    """Everything by rule; the tuning goes into a cell of its own, tagged as papermill tags it."""
    about = lesson.about
    said: dict[str, Any] = {"aims": [move.prose(aim) for aim in about.aims]}
    for word, scale in (("key", about.key_scale), ("home", about.home_scale)):
        if about.raw.get(word) and scale is not None:
            said[word] = str(scale.up(move.interval))
    if about.tempo:
        said["tempo"] = print_tempo(move.tempo(about.tempo_bpm or Fraction(0)))
    new = lesson.with_sources({cell.number: move.code(cell.source) if cell.is_code else move.prose(cell.source)
                               for cell in lesson.cells if cell.is_code or cell.is_text})
    home = about.home_scale
    if target.key and home is not None:
        said["title"] = f"{about.title or 'Lesson'} in {home.up(move.interval).pretty}"
        new = _with_heading(new, home.up(move.interval))
    new = new.with_about(**said)
    if target.tuning:
        new = with_injected(new, {"tuning": str(_new_tuning(_tuning_of(lesson), target))})
    return new


def _with_heading(lesson: Lesson, home: Scale) -> Lesson:
    """The lesson whose title, in its prose, says where it stands."""
    for cell in lesson.cells:
        if cell.is_text and cell.source.startswith("# "):
            head, _, rest = cell.source.partition("\n")
            said = _CLOSING.sub(f" in {home.pretty}", head, count=1) + (f"\n{rest}" if rest else "")
            return lesson.with_sources({cell.number: said})
    return lesson


# -- necks -----------------------------------------------------------------------------------------------------------
def _new_tuning(old: Tuning, target: Target) -> Tuning:
    """The tuning asked for; a capo of the lesson's stays where the tuning names none."""
    new = Tuning.parse(target.tuning)
    return new if new.capo else new.with_capo(old.capo)


def _strings_moved(lesson: Lesson, target: Target) -> int:
    """By how many half steps most strings of the new neck sound higher than on the lesson's own."""
    if not target.tuning:
        return 0
    own = _tuning_of(lesson)
    return mode(_differences(own, _new_tuning(own, target)))


def _differences(old: Tuning, new: Tuning) -> Iterable[int]:
    return [new.midi(string, 0) - old.midi(string, 0) for string in old.strings if string in new.strings]


def _same_places(lesson: Lesson, target: Target) -> None:
    """Refuse a neck on which a place that the prose names is another note than the rest of the move makes it."""
    old = _tuning_of(lesson)
    new, usual = _new_tuning(old, target), _strings_moved(lesson, target)
    for number, words in lesson.prose:
        for string, fret in string_frets_in(words):
            if string not in new.strings or new.midi(string, 0) - old.midi(string, 0) != usual:
                raise LessonError(f"the prose names string {string} fret {fret}, which is another note in this tuning",
                                  value=target.tuning, where=f"cell {number}",
                                  expected="a tuning that leaves that string as it is, or prose without that place")


def _frets_of(lesson: Lesson) -> list[int]:
    """The frets and positions that a lesson names, in code and in prose, and its own position."""
    found: list[int] = []
    for cell in lesson.cells:
        if cell.is_text:
            found += frets_in(cell.source)
        elif cell.is_code:
            found += [fret for _, fret in fret_numbers(parsed(cell.source))]
    plan = _stand_of(lesson).plan if has_choices(lesson) else None
    return [*found, plan.position] if plan else found
