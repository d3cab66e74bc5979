"""Every mark of technique in every room: drawn, heard, written and read back, named; a new one fails until it is.

What a room does with a mark is seen from outside: the same two notes with the mark and without it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest
from support.techniques import note

from theorylib import Chart, Line, Mark
from theorylib.playing.marks import FALLS, JOIN_NEEDS, MARKS, RISES, STAYS, Technique
from workbook.draw import mei_marks, spoken
from workbook.draw.score import score
from workbook.exchange import musicxml_marks
from workbook.exchange.music_files import line_of_text
from workbook.exchange.musicxml import musicxml_text
from workbook.lesson import facts
from workbook.lesson.facts import techniques_of
from workbook.play import performance
from workbook.play.performance import performance as heard

SIZE = {"semitones": Fraction(2), "cents": Fraction(50), "MIDI velocity": Fraction(20)}


def example(kind: str, *, plain: bool = False) -> Line:
    """Two notes on a string that the mark could join, the second with the mark (or plain), and a third after it."""
    row = MARKS[kind]
    frets = {RISES: (5, 7), FALLS: (7, 5), STAYS: (5, 5)}.get(row.joins, (5, 7))
    names = {5: "C4", 7: "D5" if "harmonic" in kind else "D4"}  # what sounds at fret 7 of string 3 (physics)
    before = (Mark("bend", Fraction(2)),) if kind == "release" else ()  # what falls was up before
    mark = Mark(kind, SIZE[row.unit] if row.unit else Fraction(0), Fraction(1, 2) if kind == "release" else Fraction(0))
    marks = before if plain else (*before, mark)
    notes = (note(names[frets[0]], "0", "1", 3, frets[0]), note(names[frets[1]], "1", "1", 3, frets[1], *marks),
             note("E4", "2", "1", 2, 5))
    return Line(notes, Chart.parse("| Am7 |"))


def is_drawn(kind: str) -> None:
    assert kind in mei_marks.DRAWN
    assert score(example(kind)).svg != score(example(kind, plain=True)).svg


def is_heard(kind: str) -> None:
    assert kind in performance.HEARD
    same = heard(example(kind)) == heard(example(kind, plain=True))
    assert same == bool(performance.HEARD[kind].unheard)


def is_written_and_read_back(kind: str) -> None:
    assert kind in musicxml_marks.WRITTEN
    marked, plain = musicxml_text([example(kind)]), musicxml_text([example(kind, plain=True)])
    assert marked != plain
    assert line_of_text(marked).line.notes == example(kind).notes


def is_named(kind: str) -> None:
    assert kind in facts.NAMED
    assert set(techniques_of([example(kind)])) >= {facts.NAMED[kind]} - {""}


def is_said(kind: str) -> None:
    said = spoken.spoken_line(example(kind))
    assert spoken.SAID[kind] in said or (kind == "tie" and "held" in said)


ROOMS: dict[str, Callable[[str], None]] = {
    "drawn": is_drawn, "heard": is_heard, "written": is_written_and_read_back, "named": is_named,
    "said": is_said,
}
TABLES = (mei_marks.DRAWN, performance.HEARD, musicxml_marks.WRITTEN, facts.NAMED, spoken.SAID)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("kind", MARKS)
def test_every_mark_is_known_in_every_room(kind: str, room: str) -> None:
    ROOMS[room](kind)


def test_no_room_knows_a_mark_that_is_none() -> None:
    for table in TABLES:
        assert table.keys() == MARKS.keys()


@pytest.mark.parametrize("room", ROOMS)
def test_a_new_mark_fails_in_every_room_until_it_is_there(room: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(MARKS, "rake", replace(MARKS["accent"], sign="rk"))
    with pytest.raises((AssertionError, KeyError)):
        ROOMS[room]("rake")


@pytest.mark.parametrize(("table", "entry", "room"), [
    (mei_marks.DRAWN, mei_marks.Look(), "drawn"), (performance.HEARD, performance.Heard(), "heard"),
    (musicxml_marks.WRITTEN, musicxml_marks.Element("note", "nothing", musicxml_marks.OWN), "written")])
def test_an_entry_that_does_nothing_fails_too(table: dict, entry: object, room: str,
                                              monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(MARKS, "rake", replace(MARKS["accent"], sign="rk"))
    monkeypatch.setitem(table, "rake", entry)
    with pytest.raises(AssertionError):
        ROOMS[room]("rake")


def test_rows_are_whole_and_signs_are_unique() -> None:
    assert len({row.sign for row in MARKS.values()}) == len(MARKS)
    for row in MARKS.values():
        assert isinstance(row, Technique)
        assert bool(row.unit) == (row.limits is not None)
        assert not row.joins or row.joins in JOIN_NEEDS
        assert row.tab
