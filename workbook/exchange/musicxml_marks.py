"""Techniques as MusicXML 4.0 writes them, both ways: one table for the marks that are a single element.

What the standard has no element for (where a vibrato begins and how wide it is, a hammer-on from nowhere, the moment of
a bend) stands beside it as an `other-technical` in words that `marks_of` reads back.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator, Mapping
from fractions import Fraction

from theorylib.limits import exact
from theorylib.playing.lines import Mark, Note

# mark: (parent within notations, element, its child if any).
SINGLE: dict[str, tuple[str, str, str]] = {
    "tap": ("technical", "tap", ""), "harmonic": ("technical", "harmonic", "natural"),
    "tapped harmonic": ("technical", "harmonic", "artificial"), "pick down": ("technical", "down-bow", ""),
    "pick up": ("technical", "up-bow", ""), "accent": ("articulations", "accent", ""),
    "staccato": ("articulations", "staccato", ""),
}
# mark: element that joins two notes, by a start on the first and a stop on the second; with its letter.
JOINED = {"hammer": ("technical", "hammer-on", "H"), "pull": ("technical", "pull-off", "P"),
          "slide": ("notations", "slide", ""), "legato slide": ("notations", "slide", "")}
HEADS = {"dead": ("x", {}), "ghost": ("normal", {"parentheses": "yes"})}
FORTE = 90  # the MIDI velocity that MusicXML's 100 % of forte stands for (the standard's own)
_WORDS = re.compile(r"(vibrato|bend|pre-bend|release|hammer from nowhere)(?: (-?[\d/]+))?(?: at ([\d/]+))?")


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
            parent, name, child = SINGLE[mark.kind]
            made = ElementTree.SubElement(_child(notations, parent), name)
            if child:
                ElementTree.SubElement(made, child)
        elif mark.kind in ("bend", "pre-bend", "release"):
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
    head = note.find("notehead")
    if head is not None:
        yield from (Mark(kind) for kind, (shape, more) in HEADS.items()
                    if head.text == shape and (head.get("parentheses") == "yes") == bool(more))
    if note.findtext("play/mute") == "palm":
        yield Mark("palm mute")
    if note.get("dynamics"):
        yield Mark("dynamic", Fraction(round(float(note.get("dynamics", "0")) * FORTE / 100)))
    said = {}
    for notations in note.findall("notations"):
        for kind, (parent, name, child) in SINGLE.items():
            for made in notations.findall(f"{parent}/{name}"):
                if not child or made.find(child) is not None:
                    yield Mark(kind)
        if any(tied.get("type") == "let-ring" for tied in notations.findall("tied")):
            yield Mark("let ring")
        for other in notations.findall("technical/other-technical"):
            if match := _WORDS.fullmatch(other.text or ""):
                said[match[1]] = (exact(match[2] or 0), exact(match[3] or 0))
        for bend in notations.findall("technical/bend"):
            size = abs(exact(bend.findtext("bend-alter", "0"), "bend"))
            kind = "pre-bend" if bend.find("pre-bend") is not None else "release" if bend.find("release") is not None \
                else "bend"
            yield Mark(kind, *said.pop(kind, (size, Fraction(0))))
        if notations.find("ornaments/wavy-line") is not None:
            yield Mark("vibrato", *said.pop("vibrato", (Fraction(40), Fraction(0))))
    if "hammer from nowhere" in said:
        yield Mark("hammer from nowhere")


def joins_of(note: ElementTree.Element) -> Iterator[str]:
    """Kinds of the joins that stop at a note."""
    for notations in note.findall("notations"):
        slurred = any(slur.get("type") == "stop" for slur in notations.findall("slur"))
        for kind, (parent, name, _) in JOINED.items():
            path = name if parent == "notations" else f"{parent}/{name}"
            if any(made.get("type") == "stop" for made in notations.findall(path)):
                if name == "slide" and (kind == "legato slide") != slurred:
                    continue
                yield kind


def _join(notations: ElementTree.Element, kind: str, way: str, number: int) -> None:
    parent, name, letter = JOINED[kind]
    made = ElementTree.SubElement(_child(notations, parent), name, type=way, number=str(number))
    if name == "slide":
        made.set("line-type", "solid")
    elif way == "start":
        made.text = letter
    if kind == "legato slide":
        ElementTree.SubElement(notations, "slur", type=way, number=str(number))


def _bend(notations: ElementTree.Element, mark: Mark) -> None:
    bend = ElementTree.SubElement(_child(notations, "technical"), "bend")
    size = -mark.value if mark.kind == "release" else mark.value
    ElementTree.SubElement(bend, "bend-alter").text = f"{float(size):g}"
    if mark.kind != "bend":
        ElementTree.SubElement(bend, mark.kind)
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
