"""What help shows of the kit: plain defaults, the choices that there are, and for each name when one wants it."""

from __future__ import annotations

import inspect
import re
from typing import Any, get_args

import pytest

from theorylib import levels
from theorylib.changes import meters
from theorylib.names import spelling
from theorylib.playing import choices, values
from theorylib.practice import approaches, drills, idioms, sequences, through, touch
from theorylib.reading import judging
from workbook import kit
from workbook.draw import neck_view
from workbook.draw.neck import NeckPicture
from workbook.exchange import grids
from workbook.exchange.passages import Passage
from workbook.lesson import chosen, facts
from workbook.play import band, sound
from workbook.play.player import Player

OURS = {name: getattr(kit, name) for name in kit.__all__ if name not in ("Fraction", "STANDARD")}
CALLS = {name: inspect.unwrap(value) for name, value in OURS.items() if inspect.isfunction(inspect.unwrap(value))}
CALLS |= {"labelled": NeckPicture.labelled, "encoded": Player.encoded, "Passage": Passage.__init__}
# alias: (the type, the table that the code goes by)
CHOICES: dict[str, tuple[Any, Any]] = {
    "Level": (levels.Level, levels.LEVELS), "Direction": (drills.Direction, drills.DIRECTIONS),
    "Way": (sequences.Way, sequences.WAYS), "StrokeRule": (sequences.StrokeRule, sequences.STROKES),
    "PatternName": (sequences.PatternName, sequences.PATTERNS), "BendWay": (touch.BendWay, touch.BEND_WAYS),
    "SlideKind": (touch.SlideKind, touch.SLIDE_KINDS), "Style": (idioms.Style, idioms.STYLES),
    "Approach": (approaches.Approach, approaches.APPROACHES), "FirstVoice": (through.FirstVoice, through.FIRST_VOICES),
    "Rhythm": (values.Rhythm, values.RHYTHMS), "OpenStrings": (choices.OpenStrings, choices.OPEN_STRINGS),
    "NoteLanguage": (spelling.NoteLanguage, spelling.NOTE_NAMES), "Reach": (judging.Reach, judging.REACH_POINTS),
    "LessonKind": (chosen.LessonKind, (*chosen.KINDS, chosen.PHRASE)), "Feel": (meters.Feel, meters.FEELS),
    "Labels": (neck_view.Labels, neck_view.LABELS), "AudioForm": (sound.AudioForm, sound.FORMATS),
    "GridName": (grids.GridName, grids.WITHIN), "Technique": (facts.Technique, facts.TECHNIQUES),
}
# A parameter that takes one of a few words names the type of its words, whatever else it takes.
BY_PARAMETER = {
    "level": "Level", "direction": "Direction", "approach": "Approach", "style": "Style", "first": "FirstVoice",
    "rhythm": "Rhythm", "open_strings": "OpenStrings", "note_names": "NoteLanguage", "reach": "Reach",
    "labels": "Labels", "grid": "GridName", "rule": "StrokeRule", "feel": "Feel", "pattern": "PatternName",
    "technique": "Technique"}
BY_CALL = {
    ("bend_drill", "way"): "BendWay", ("sequence", "way"): "Way", ("slide_drill", "kind"): "SlideKind",
    ("encoded", "form"): "AudioForm", ("motif", "rhythm"): "", ("call_and_answer", "rhythm"): "",
    ("backing", "style"): ""}
BY_CALL |= {(name, "kind"): "LessonKind" for name in (
    "areas", "area_scale", "best_position", "phrase_style", "phrase_position", "shape_position")}
PLAIN = re.compile(r"None|True|False|STANDARD|-?[\d.]+|'[^']*'|\w+(\.parse)?\([^()]{0,20}\)|\([^()]{0,20}\)")


@pytest.mark.parametrize("alias", CHOICES)
def test_the_words_of_a_type_are_those_of_its_table(alias: str) -> None:
    words, table = CHOICES[alias]
    assert sorted(get_args(words)) == sorted(table)


def test_a_parameter_of_a_few_words_names_their_type() -> None:
    seen = set()
    for name, call in CALLS.items():
        for word, parameter in inspect.signature(call).parameters.items():
            alias = BY_CALL.get((name, word), BY_PARAMETER.get(word, ""))
            if alias:
                assert re.search(rf"\b{alias}\b", str(parameter.annotation)), (name, word, parameter.annotation)
                assert call.__globals__[alias] == CHOICES[alias][0], (name, alias)
                seen.add(alias)
    assert seen == set(CHOICES)


def test_defaults_are_plain() -> None:
    """As Lab's tooltip shows them: a word, a number, or the call that one would type."""
    odd = [f"{name}({parameter})" for name, value in OURS.items()
           for parameter in inspect.signature(value).parameters.values()
           if parameter.default is not parameter.empty and not PLAIN.fullmatch(repr(parameter.default))]
    assert odd == []


def test_the_words_of_a_backing_are_those_of_its_band() -> None:
    assert list(inspect.signature(kit.backing).parameters) == ["chart", *band.WORDS]


@pytest.mark.parametrize("name", OURS)
def test_the_first_line_is_a_short_sentence_that_says_when_one_wants_it(name: str) -> None:
    """A docstring that a dataclass makes up of its fields, say, is none."""
    first = (inspect.getdoc(OURS[name]) or "").splitlines()[0]
    assert re.fullmatch(r"[A-Z].{18,98}\.", first), first
    assert not first.startswith(("Return", f"{name}("))
