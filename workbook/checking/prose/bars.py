"""Chords that a sentence puts into a bar, or at the beginning or end of the changes, where the chart has others."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from theorylib.names.chords import Chord

from ...lesson.prose import listed
from .about import NEAR
from .facts import Facts, names_chord
from .mention import Mention
from .words import ORDINAL, number_of

_IN_BAR = re.compile(rf"\s+(?:chord\s+)?(?:in|of|at|from|on)\s+(?:bar\s+(\d{{1,3}})(?!\d|\s*(?:-|–|to|and|,)\s*\d)"
                     rf"|the\s+({ORDINAL})\s+bar)\b", re.IGNORECASE)
_BAR_IS = re.compile(rf"\b(?:bar\s+(\d{{1,3}})|the\s+({ORDINAL})\s+bar)\s*(?:is|has|holds|brings|plays|takes|sounds"
                     r"|stays\s+on|goes\s+to|moves\s+to|begins\s+(?:on|with)|belongs\s+to|:)\s+"
                     r"(?:(?:still|again|all)\s+)?(?:(?:an?|the)\s+)?$", re.IGNORECASE)
_FORM = r"\b(?:loop|chart|changes|form|tune|progression|vamp|song|lesson|chorus)\s+"
_BEGINS = re.compile(_FORM + r"(?:begins?|starts?|opens?)\s+(?:on|with)\s+(?:an?\s+|the\s+)?$", re.IGNORECASE)
_ENDS = re.compile(_FORM + r"(?:ends?|closes?|finish(?:es)?)\s+(?:on|with)\s+(?:an?\s+|the\s+)?$", re.IGNORECASE)


def misplaced(text: str, every: Sequence[Mention], facts: Facts) -> Iterator[tuple[Mention, str]]:
    """(chord, what would be true) for each chord of the changes that a sentence puts where it does not stand."""
    for one in every:
        if one.kind not in ("chord", "root") or not isinstance(one.value, Chord) or not facts.holds(one.value):
            continue
        first = max(0, one.start - NEAR)
        before = text[first:one.start]
        after, is_bar = _IN_BAR.match(text, one.end), _BAR_IS.search(before)
        place = after or is_bar
        if place:
            number = number_of(place[1] or place[2])
            end = after.end() if after else one.end
            start = one.start if after else first + place.start()
            yield from _in_bar(replace(one, words=text[start:end], start=start, end=end), number, facts)
        elif _BEGINS.search(before):
            yield from _at_edge(one, facts, 0, "begin with")
        elif _ENDS.search(before):
            yield from _at_edge(one, facts, -1, "end with")


def _in_bar(one: Mention, number: int, facts: Facts) -> Iterator[tuple[Mention, str]]:
    there = facts.in_bar(number)
    if there and not any(names_chord(one.value, real) for real in there):
        yield one, f"bar {number} holds {listed(chord.pretty for chord in there)}"


def _at_edge(one: Mention, facts: Facts, index: int, verb: str) -> Iterator[tuple[Mention, str]]:
    edges = [chart.events[index].chord for chart in facts.charts]
    if not any(names_chord(one.value, real) for real in edges):
        yield one, f"the changes {verb} {listed(chord.pretty for chord in dict.fromkeys(edges))}"
