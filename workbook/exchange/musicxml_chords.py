"""Chord symbols as MusicXML's harmony elements, both ways, by one table of kinds.

A kind is a name of the standard with the degrees that it stands for; what a chord has beside them, or lacks, is said by
degree elements. The text that a file prints for a kind counts where it sounds the same notes, else the kind itself.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator

from theorylib.errors import ChordError, VampError, shown
from theorylib.limits import exact
from theorylib.names.chords import NO_CHORD, Chord
from theorylib.names.naming import names_of
from theorylib.names.spelling import Interval, NoteName

# The standard's kind values (MusicXML 4.0, W3C) by our quality, each with the degrees that it stands for.
_KINDS = {
    "": ("major", "1 3 5"), "m": ("minor", "1 b3 5"), "dim": ("diminished", "1 b3 b5"), "aug": ("augmented", "1 3 #5"),
    "sus2": ("suspended-second", "1 9 5"), "sus4": ("suspended-fourth", "1 11 5"), "5": ("power", "1 5"),
    "6": ("major-sixth", "1 3 5 6"), "m6": ("minor-sixth", "1 b3 5 6"), "7": ("dominant", "1 3 5 b7"),
    "maj7": ("major-seventh", "1 3 5 7"), "m7": ("minor-seventh", "1 b3 5 b7"), "mMaj7": ("major-minor", "1 b3 5 7"),
    "dim7": ("diminished-seventh", "1 b3 b5 bb7"), "m7b5": ("half-diminished", "1 b3 b5 b7"),
    "7#5": ("augmented-seventh", "1 3 #5 b7"), "9": ("dominant-ninth", "1 3 5 b7 9"),
    "maj9": ("major-ninth", "1 3 5 7 9"), "m9": ("minor-ninth", "1 b3 5 b7 9"),
    "11": ("dominant-11th", "1 3 5 b7 9 11"), "m11": ("minor-11th", "1 b3 5 b7 9 11"),
    "maj11": ("major-11th", "1 3 5 7 9 11"), "13": ("dominant-13th", "1 3 5 b7 9 11 13"),
    "maj13": ("major-13th", "1 3 5 7 9 11 13"), "m13": ("minor-13th", "1 b3 5 b7 9 11 13"),
}
_DEGREES_OF = {kind: tuple(degrees.split()) for kind, degrees in _KINDS.values()}
_QUALITY_OF = {kind: quality for quality, (kind, _) in _KINDS.items()}
ALTERS = {0: "", 1: "#", 2: "##", 3: "###", -1: "b", -2: "bb", -3: "bbb"}


def harmony_element(chord: Chord, offset: str = "", frame: ElementTree.Element | None = None) -> ElementTree.Element:
    """A chord symbol with its diagram, if any; `offset` are the divisions from where it stands to where it sounds."""
    found = ElementTree.Element("harmony")
    if chord.root is None:
        ElementTree.SubElement(ElementTree.SubElement(found, "root"), "root-step", text="").text = "C"
        ElementTree.SubElement(found, "kind", text="N.C.").text = "none"  # the standard's way to print no root
    else:
        kind, base = _kind_of(chord)
        _put_name(found, "root", chord.root)
        changes = list(_degrees(chord, base))
        text = _printed_apart(chord, kind, changes)
        ElementTree.SubElement(found, "kind", text=chord.suffix if text is None else text).text = kind
        if chord.bass is not None:
            _put_name(found, "bass", chord.bass)
        for change, degree in changes:
            node = ElementTree.SubElement(found, "degree", {} if text is not None else {"print-object": "no"})
            for name, text in (("value", degree.lstrip("b#")), ("alter", str(degree.count("#") - degree.count("b"))),
                               ("type", change)):
                ElementTree.SubElement(node, f"degree-{name}").text = text
    if frame is not None:
        found.append(frame)
    if offset:
        ElementTree.SubElement(found, "offset").text = offset
    return found


def _printed_apart(chord: Chord, kind: str, changes: list[tuple[str, str]]) -> str | None:
    """What to print for the kind where the degrees beside it complete the symbol (E7 and #9); else None."""
    quality = _QUALITY_OF[kind]
    if not changes or any(change == "subtract" or not degree.startswith(("b", "#")) for change, degree in changes):
        return None
    whole = _parsed(f"C{quality}({','.join(degree for _, degree in changes)})")
    return quality if whole is not None and whole.suffix == chord.suffix else None


def chord_of(element: ElementTree.Element) -> Chord:
    """The chord that a harmony element names; raises ChordError where our words cannot say it."""
    kind = element.findtext("kind", "").strip()
    if kind == "none":
        return NO_CHORD
    root = element.find("root")
    if root is None:
        raise ChordError("a chord symbol without a root", value=kind, expected="a root")
    name = name_of(root, "root")
    bass = None if element.find("bass") is None else name_of(element.find("bass"), "bass")  # type: ignore[arg-type]
    over = "" if bass is None or bass == name else f"/{bass}"
    sounding = [_sounding(element, base) for base in _bases(kind)]
    for suffix in _words(element, kind):
        chord = _parsed(f"{name}{suffix}{over}")
        if chord is not None and (set(chord.degrees) in sounding or not any(sounding)):
            return chord
    return _named(name, sounding[0], over, kind)


def name_of(element: ElementTree.Element, what: str) -> NoteName:
    """The name in a `what`-step and `what`-alter (or, for "", step and alter)."""
    step, alter = (f"{what}-step", f"{what}-alter") if what else ("step", "alter")
    size = exact(element.findtext(alter, "0"), "alteration")
    if size not in ALTERS:
        raise VampError(f"an alteration of {shown(size)}", value=str(size), expected="whole half steps, 3 at most")
    return NoteName(element.findtext(step, "").strip() + ALTERS[int(size)])


def _put_name(parent: ElementTree.Element, what: str, name: NoteName) -> None:
    found = ElementTree.SubElement(parent, what)
    ElementTree.SubElement(found, f"{what}-step").text = name.letter
    if name.accidental:
        ElementTree.SubElement(found, f"{what}-alter").text = str(name.accidental)


def _bases(kind: str) -> tuple[tuple[str, ...], ...]:
    """The degrees that a kind stands for, by the standard and as guitarists play it (an 11th without its 3rd ...)."""
    if kind not in _QUALITY_OF:
        return ((),)
    return _DEGREES_OF[kind], Chord.parse(f"C{_QUALITY_OF[kind]}").degrees


def _changes(element: ElementTree.Element) -> Iterator[tuple[str, str, str]]:
    """(alter, add or subtract; signs; number) of each degree element; an added 2 or 4 is a 9 or 11 here."""
    for one in element.findall("degree"):
        number = one.findtext("degree-value", "").strip()
        size = exact(one.findtext("degree-alter", "0"), "alteration of a degree")
        if size not in ALTERS:
            raise ChordError(f"a degree altered by {shown(size)}", value=str(size), expected="whole half steps")
        yield one.findtext("degree-type", "add").strip(), ALTERS[int(size)], {"2": "9", "4": "11"}.get(number, number)


def _sounding(element: ElementTree.Element, base: tuple[str, ...]) -> set[str]:
    """The degrees that a kind's degrees and the degree elements say together."""
    found = set(base)
    for change, signs, number in _changes(element):
        if change != "add" or signs:  # an added b5 or #9 takes the place of the natural one
            found = {degree for degree in found if degree.lstrip("b#") != number}
        if change != "subtract":
            found.add(signs + number)
    return found


def _words(element: ElementTree.Element, kind: str) -> Iterator[str]:
    """Suffixes that the symbol may have: what the file prints, what kind and degrees say, the kind alone."""
    node = element.find("kind")
    text = "" if node is None else node.get("text", "").strip()
    written = ""
    for change, signs, number in _changes(element):
        word = {"subtract": f"no{number}", "add": f"add{signs}{number}"}.get(change, f"({signs}{number})")
        written += f"({signs}{number})" if signs and change == "add" else word
    if text:
        yield text
        yield text + written
    if kind in _QUALITY_OF:
        yield _QUALITY_OF[kind] + written
        yield _QUALITY_OF[kind]


def _parsed(text: str) -> Chord | None:
    try:
        return Chord.parse(text)
    except VampError:
        return None


def _named(root: NoteName, degrees: set[str], over: str, kind: str) -> Chord:
    """A name on this root for the notes of a kind that has no row of ours."""
    if degrees:
        notes = [root.up(Interval.of_degree(degree)) for degree in degrees]
        for chord in names_of(notes, root):
            if chord.root == root and set(chord.names) == set(notes):
                return Chord.parse(f"{chord.without_bass()}{over}")
    raise ChordError(f"no chord symbol of ours for {root} {shown(kind) or 'without a kind'}", value=kind,
                     expected="a kind that can be said as a chord symbol")


def _kind_of(chord: Chord) -> tuple[str, tuple[str, ...]]:
    """The standard's kind that lies nearest, and the degrees that it stands for."""
    exactly = _KINDS.get(chord.suffix)
    if exactly:
        return exactly[0], tuple(exactly[1].split())
    wanted = set(chord.degrees)
    kind, degrees = min(_KINDS.values(), key=lambda row: len(wanted ^ set(row[1].split())))
    return kind, tuple(degrees.split())


def _degrees(chord: Chord, base: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    """What must be altered, subtracted from or added to a kind so that it sounds the chord."""
    missing = [degree for degree in base if degree not in chord.degrees]
    for degree in chord.degrees:
        if degree in base:
            continue
        changed = next((one for one in missing if one.lstrip("b#") == degree.lstrip("b#")), None)
        if changed is not None:
            missing.remove(changed)
            yield "alter", degree
        else:
            yield "add", degree
    for degree in missing:
        yield "subtract", degree.lstrip("b#")

