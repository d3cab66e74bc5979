"""Our own MusicXML read again: each drill and mark comes back to the same value; what was changed elsewhere counts."""

from __future__ import annotations

import os
from dataclasses import replace

import pytest
from support.drills import DRILLS, KEYS, TUNINGS, made
from support.techniques import long_bend, one_of_each, unison_bend

from theorylib import Line, finger
from workbook.exchange.music_files import line_of_text
from workbook.exchange.musicxml import musicxml_text
from workbook.exchange.musicxml_in import score_of_musicxml
from workbook.exchange.passages import Passage
from workbook.exchange.score_lines import line_of_score

EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))


def in_order(line: Line) -> Line:
    """Notes struck together have no first: the lowest is written first."""
    return replace(line, notes=tuple(sorted(line.notes, key=lambda note: (note.onset_beats, note.pitch.midi))))


@pytest.mark.parametrize("name", DRILLS)
def test_every_drill_comes_back_the_same(name: str) -> None:
    number = list(DRILLS).index(name)
    choices = [(key, tuning) for key in KEYS for tuning in TUNINGS] if EXPLORE else [
        (KEYS[number % len(KEYS)], TUNINGS[number % len(TUNINGS)])]
    for key, tuning in choices:
        line = made(name, key, tuning, "swing")
        for one in (line, finger(line)):
            read = line_of_text(musicxml_text([one], title="A lesson"))
            assert in_order(read.line) == in_order(one)
            assert [said for said in read.said if said.bars] == [] or one.chart.key is not None


@pytest.mark.parametrize("make", [one_of_each, long_bend, unison_bend])
def test_every_mark_comes_back_the_same(make: object) -> None:
    line = make()  # type: ignore[operator]
    assert line_of_text(musicxml_text([line])).line == line


def test_what_another_program_changed_in_our_file_counts() -> None:
    """A chord symbol and a pitch changed elsewhere: the words that we keep beside them say otherwise and give way."""
    line = made("continuous arpeggio", "C", "standard", "swing")
    text = musicxml_text([line])
    kind = text.index("<kind ")
    moved = text[:kind] + text[kind:].replace('<kind text="m7">minor-seventh', '<kind text="7">dominant', 1)
    assert str(line_of_text(moved).line.chart.events[0].chord) == "C7"
    assert line_of_text(moved).line.notes[1].degree == "#9"  # Eb was the b3 of Cm7
    higher = text.replace("<step>C</step>", "<step>D</step>", 1)
    first = line_of_text(higher).line.notes[0]
    assert (first.pitch.name, first.degree) == ("D", "9")


def test_of_several_lines_the_first_is_read_and_the_others_are_named() -> None:
    lines = [made("continuous arpeggio", "C", "standard", "swing"), made("thirds", "C", "standard", "swing")]
    read = line_of_text(musicxml_text(lines))
    assert read.line == lines[0]
    assert any("others begin at bars 6" in str(one) for one in read.said)
    last = 5 + lines[1].bar_count
    assert line_of_score(score_of_musicxml(musicxml_text(lines)), Passage(bars=f"6-{last}")).line == lines[1]
