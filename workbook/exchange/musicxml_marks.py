"""Techniques as MusicXML 4.0 writes them, both ways: one table for the marks that are a single element.

What the standard has no element for (where a vibrato begins and how wide it is, a hammer-on from nowhere, the moment of
a bend) stands beside it as an `other-technical` in words that `marks_of` reads back.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from theorylib.limits import exact
from theorylib.playing.lines import Mark, Note
from theorylib.playing.marks import MARKS, MOVING

ONE, JOIN, HEAD, OWN = "one element", "a join of two notes", "a note head", "a form of its own"


@dataclass(frozen=True, slots=True)
class Element:
    """How a mark is written: its parent within `notations` (or "note"), its element, and how it is made.

    ONE: the element, with a `child` if named. JOIN: a start on the first note and a stop on the second, with its
    letter. HEAD: a note head of that shape, in brackets or not. OWN: by a function here or in musicxml.py. `said`:
    also (or only) in words.
    """

    parent: str
    name: str
    how: str = ONE
    child: str = ""
    letter: str = ""
    brackets: bool = False
    said: bool = False


WRITTEN: dict[str, Element] = {
    "tap": Element("technical", "tap"), "harmonic": Element("technical", "harmonic", child="natural"),
    "tapped harmonic": Element("technical", "harmonic", child="artificial"),
    "pick down": Element("technical", "down-bow"), "pick up": Element("technical", "up-bow"),
    "accent": Element("articulations", "accent"), "staccato": Element("articulations", "staccato"),
    "hammer": Element("technical", "hammer-on", JOIN, letter="H"),
    "pull": Element("technical", "pull-off", JOIN, letter="P"),
    "slide": Element("notations", "slide", JOIN), "legato slide": Element("notations", "slide", JOIN),
    "dead": Element("note", "x", HEAD), "ghost": Element("note", "normal", HEAD, brackets=True),
    "bend": Element("technical", "bend", OWN, said=True),
    "pre-bend": Element("technical", "bend", OWN, child="pre-bend", said=True),
    "release": Element("technical", "bend", OWN, child="release", said=True),
    "vibrato": Element("ornaments", "wavy-line", OWN, said=True),
    "hammer from nowhere": Element("technical", "other-technical", OWN, said=True),
    "let ring": Element("notations", "tied", OWN), "tie": Element("note", "tie", OWN),
    "palm mute": Element("note", "play", OWN), "grace": Element("note", "grace", OWN),
    "dynamic": Element("note", "dynamics", OWN),
}
SINGLE = {kind: row for kind, row in WRITTEN.items() if row.how == ONE}
JOINED = {kind: row for kind, row in WRITTEN.items() if row.how == JOIN}
HEADS = {kind: row for kind, row in WRITTEN.items() if row.how == HEAD}
_READ = {"string", "fret", "fingering", *(row.name for row in WRITTEN.values())}
FORTE = 90  # the MIDI velocity that MusicXML's 100 % of forte stands for (the standard's own)
_Said = tuple[Fraction, Fraction]  # a mark's value, and its moment in beats
_VIBRATO_CENTS = Fraction(40)  # of a wavy line that says no width: common practice, no source
_SAID = "|".join(re.escape(kind) for kind, row in WRITTEN.items() if row.said)
_WORDS = re.compile(rf"({_SAID})(?: (-?[\d/]+))?(?: at ([\d/]+))?")


def add_marks(note: Note, notations: ElementTree.Element, goes_on: Mapping[str, int], comes: Mapping[str, int]) -> None:
    """Write a struck note's marks into its notations; `goes_on` and `comes` are joins that start and stop here.

    Both map the kind of mark to the number that tells joins that overlap apart.
    """
    for kind, number in comes.items():
        _join(notations, kind, "stop", number)
    for kind, number in goes_on.items():
        _join(notations, kind, "start", number)
    for mark in note.marks:
        if mark.kind in SINGLE:
            row = SINGLE[mark.kind]
            made = ElementTree.SubElement(_child(notations, row.parent), row.name)
            if row.child:
                ElementTree.SubElement(made, row.child)
        elif mark.kind in MOVING:
            _bend(notations, mark)
        elif mark.kind == "vibrato":
            ornaments = _child(notations, "ornaments")
            ElementTree.SubElement(ornaments, "wavy-line", type="start", number="1")
            ElementTree.SubElement(ornaments, "wavy-line", type="stop", number="1")
            _say(notations, f"vibrato {mark.value} at {mark.at_beats}")
        elif mark.kind == "hammer from nowhere":
            _say(notations, mark.kind)
        elif mark.kind == "let ring":
            notations.insert(0, ElementTree.Element("tied", type="let-ring"))


def marks_of(note: ElementTree.Element) -> Iterator[Mark]:
    """The marks that a note element carries, joins and graces apart."""
    yield from _of_head(note)
    if note.findtext("play/mute") == "palm":
        yield Mark("palm mute")
    if note.get("dynamics"):
        yield Mark("dynamic", Fraction(round(float(note.get("dynamics", "0")) * FORTE / 100)))
    said: dict[str, _Said] = {}
    for notations in note.findall("notations"):
        yield from _singles(notations)
        if any(tied.get("type") == "let-ring" for tied in notations.findall("tied")):
            yield Mark("let ring")
        said |= dict(_in_words(notations))
        for bend in notations.findall("technical/bend"):
            kind = _kind_of_bend(bend)
            size = abs(exact(bend.findtext("bend-alter", "0"), "bend"))
            yield Mark(kind, *said.pop(kind, (size, Fraction(0))))
        if _shakes(notations):
            yield Mark("vibrato", *said.pop("vibrato", (_VIBRATO_CENTS, Fraction(0))))
    if "hammer from nowhere" in said:
        yield Mark("hammer from nowhere")


def unread_of(note: ElementTree.Element) -> Iterator[str]:
    """The names of the signs within a note's notations that no mark, place or finger is read from."""
    for parent in ("technical", "articulations", "ornaments"):
        for sign in note.findall(f"notations/{parent}/*"):
            if sign.tag not in _READ:
                yield sign.tag


def _of_head(note: ElementTree.Element) -> Iterator[Mark]:
    head = note.find("notehead")
    if head is not None:
        looks = head.text, head.get("parentheses") == "yes"
        yield from (Mark(kind) for kind, row in HEADS.items() if looks == (row.name, row.brackets))


def _singles(notations: ElementTree.Element) -> Iterator[Mark]:
    """The marks that are one element each."""
    for kind, row in SINGLE.items():
        for made in notations.findall(f"{row.parent}/{row.name}"):
            if not row.child or made.find(row.child) is not None:
                yield Mark(kind)


def _in_words(notations: ElementTree.Element) -> Iterator[tuple[str, _Said]]:
    """What the standard has no element for, as our own writer says it."""
    for other in notations.findall("technical/other-technical"):
        if match := _WORDS.fullmatch(other.text or ""):
            yield match[1], (exact(match[2] or 0), exact(match[3] or 0))


def _kind_of_bend(bend: ElementTree.Element) -> str:
    return next((kind for kind in ("pre-bend", "release") if bend.find(kind) is not None), "bend")


def _shakes(notations: ElementTree.Element) -> bool:
    """Does a vibrato begin here? The wavy line of a trill is none."""
    wavy = [line.get("type") for line in notations.findall("ornaments/wavy-line")]
    return "start" in wavy and notations.find("ornaments/trill-mark") is None


def joins_of(note: ElementTree.Element) -> Iterator[str]:
    """Kinds of the joins that stop at a note."""
    for notations in note.findall("notations"):
        slurred = any(slur.get("type") == "stop" for slur in notations.findall("slur"))
        for kind, row in JOINED.items():
            path = row.name if row.parent == "notations" else f"{row.parent}/{row.name}"
            if any(made.get("type") == "stop" for made in notations.findall(path)):
                if row.name == "slide" and (kind == "legato slide") != slurred:
                    continue
                yield kind


def _join(notations: ElementTree.Element, kind: str, way: str, number: int) -> None:
    row = JOINED[kind]
    made = ElementTree.SubElement(_child(notations, row.parent), row.name, type=way, number=str(number))
    if row.name == "slide":
        made.set("line-type", "solid")
    elif way == "start":
        made.text = row.letter
    if kind == "legato slide":
        ElementTree.SubElement(notations, "slur", type=way, number=str(number))


def _bend(notations: ElementTree.Element, mark: Mark) -> None:
    bend = ElementTree.SubElement(_child(notations, "technical"), "bend")
    size = mark.value * MARKS[mark.kind].moves
    ElementTree.SubElement(bend, "bend-alter").text = f"{float(size):g}"
    if WRITTEN[mark.kind].child:
        ElementTree.SubElement(bend, WRITTEN[mark.kind].child)
    if mark.at_beats:
        _say(notations, f"{mark.kind} {mark.value} at {mark.at_beats}")


def _say(notations: ElementTree.Element, words: str) -> None:
    ElementTree.SubElement(_child(notations, "technical"), "other-technical").text = words


def _child(notations: ElementTree.Element, name: str) -> ElementTree.Element:
    """The group of that name within notations, made when it is missing ("notations" itself needs none)."""
    if name == "notations":
        return notations
    found = notations.find(name)
    return ElementTree.SubElement(notations, name) if found is None else found
