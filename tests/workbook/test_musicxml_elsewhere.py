"""Our MusicXML (W3C 4.0) through two others and out again: music21 (BSD-3) as MusicXML, Verovio (LGPL-3) as MEI.

Nothing that is played or fingered is lost; what each drops by itself is named here, so that a new loss is seen.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections import Counter
from functools import lru_cache

import pytest
from support.drills import made
from support.outside_notes import MEI, our_bars, verovio_bars
from support.schema import validate
from support.techniques import one_of_each

from theorylib import Line, finger
from workbook.exchange.musicxml import musicxml_text
from workbook.exchange.musicxml_in import score_of_musicxml

TITLE = "A lesson & more"
LINES = {"drill": lambda: finger(made("continuous arpeggio", "F", "standard", "swing")), "techniques": one_of_each}
# What music21 leaves out: chord diagrams, the tuning of the TAB staff, the ratio of a swing, that a note sounds muted,
# the kind of a credit, and what we keep beside for our own reading (`other-…`); it beams both staves.
DROPPED = {"frame", "frame-strings", "frame-frets", "frame-note", "first-fret", "staff-details", "staff-type",
           "staff-lines", "staff-tuning", "tuning-step", "tuning-octave", "tuning-alter", "capo", "swing", "first",
           "second", "swing-type", "swing-style", "straight", "play", "mute", "credit-type", "other-direction",
           "other-notation"}
PLAYED = ("note", "pitch", "rest", "tie", "grace", "chord", "harmony", "root", "kind", "bass", "degree", "notehead",
          "hammer-on", "pull-off", "slide", "glissando", "slur", "bend", "tap", "wavy-line", "harmonic", "accent",
          "staccato", "down-bow", "up-bow", "other-technical", "time-modification", "words", "metronome", "clef",
          "measure", "work-title")


@lru_cache
def written(name: str) -> str:
    line: Line = LINES[name]()
    return musicxml_text([line], title=TITLE)


def counted(text: str) -> Counter[str]:
    """Elements by name, those within chord diagrams left out."""
    root = ElementTree.fromstring(text.encode())
    inside = Counter(one.tag for frame in root.iter("frame") for one in frame.iter())
    return Counter(one.tag for one in root.iter()) - inside


def by_music21(text: str) -> str:
    from music21 import converter
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    return GeneralObjectExporter(converter.parse(text, format="musicxml")).parse().decode()


@pytest.mark.parametrize("name", LINES)
def test_music21_gives_back_what_is_played(name: str) -> None:
    text = written(name)
    again = by_music21(text)
    validate(again)
    ours, theirs = counted(text), counted(again)
    for tag in (*PLAYED, "string", "fret", "fingering"):
        assert theirs[tag] == ours[tag], tag
    assert {tag for tag in ours if not theirs[tag]} <= DROPPED
    assert ours["note"] > 40
    assert ours["fret"] == ours["note"] - ours["rest"]


@pytest.mark.parametrize("name", LINES)
def test_what_music21_wrote_is_read_as_the_same_notes(name: str) -> None:
    text = written(name)
    assert our_bars(score_of_musicxml(by_music21(text))) == our_bars(score_of_musicxml(text))
    assert sum(map(len, our_bars(score_of_musicxml(text)))) > 15


@pytest.mark.parametrize("name", LINES)
def test_verovio_gives_back_what_is_played(name: str) -> None:
    """Its MEI holds both staves, all places, fingers, chords and titles; read again, it is the same to the letter.

    Chord diagrams, bends, hammer-ons and taps are not among what Verovio 6.4 takes from MusicXML.
    """
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    text = written(name)
    tool, again = verovio.toolkit(), verovio.toolkit()
    assert tool.loadData(text)
    mei = tool.getMEI()
    assert again.loadData(mei)
    assert again.getMEI() == mei
    found = Counter(one.tag.removeprefix(MEI) for one in ElementTree.fromstring(mei).iter())
    ours = counted(text)
    assert found["note"] == ours["note"] - ours["rest"]
    assert found["fing"] == ours["fingering"]
    assert found["harm"] == ours["harmony"]
    assert found["measure"] * 2 == found["staff"]
    assert found["course"] == 6
    assert TITLE.replace("&", "&amp;") in mei
    played = our_bars(score_of_musicxml(text))
    assert [set(bar) for bar in verovio_bars(text)] == [set(bar) for bar in played]
