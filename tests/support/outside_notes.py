"""The notes of a MusicXML file as two outside readers see them, bar by bar: music21 (BSD-3) and Verovio (by its MEI).

Each gives, for every written measure in order, the sorted onsets (beats from the bar line) and MIDI numbers of all
parts together; grace notes, cues, hidden and unpitched notes are left out, tied notes stand where they are written.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections import Counter
from fractions import Fraction

from workbook.exchange.scores import Score

Bars = list[Counter[tuple[Fraction, int]]]
MEI = "{http://www.music-encoding.org/ns/mei}"
_STEPS = {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9, "b": 11}
_SIGNS = {"s": 1, "f": -1, "ss": 2, "x": 2, "ff": -2, "n": 0, "xs": 3, "sx": 3, "ts": 3, "tf": -3, "nf": -1, "ns": 1}
_LENGTHS = {"long": Fraction(16), "breve": Fraction(8), "maxima": Fraction(32)}


def our_bars(score: Score) -> Bars:
    found: Bars = []
    for part in score.parts:
        for index, measure in enumerate(part.measures):
            while len(found) <= index:
                found.append(Counter())
            found[index].update((note.onset_beats, note.pitch.midi) for note in measure.notes)
    return found


def music21_bars(path: str) -> Bars:
    from music21 import chord, converter, harmony, note

    score = converter.parse(path, format="musicxml", forceSource=True)
    found: Bars = []
    for part in score.parts:
        transposed = part
        if any(one.transposition is not None for one in part.getInstruments(recurse=True)):
            transposed = part.toSoundingPitch()
        for index, measure in enumerate(transposed.getElementsByClass("Measure")):
            while len(found) <= index:
                found.append(Counter())
            for one in measure.recurse().notes:
                if isinstance(one, harmony.ChordSymbol) or one.duration.isGrace or one.style.hideObjectOnPrint:
                    continue
                if not isinstance(one, note.Note | chord.Chord):
                    continue
                onset = Fraction(one.getOffsetInHierarchy(measure)).limit_denominator(2048)
                found[index].update((onset, int(pitch.ps)) for pitch in one.pitches)
    return found


def verovio_bars(text: str) -> Bars:
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    tool = verovio.toolkit()
    tool.setOptions({"breaks": "none"})
    if not tool.loadData(text):
        raise ValueError("verovio does not read it")
    root = ElementTree.fromstring(tool.getMEI())
    shifts: dict[str, int] = {}
    found: Bars = []
    for element in root.iter():
        if element.tag == f"{MEI}staffDef" and element.get("n"):
            if element.get("trans.semi"):
                shifts[element.get("n", "")] = int(element.get("trans.semi", "0"))
        elif element.tag == f"{MEI}measure":
            bar: Counter[tuple[Fraction, int]] = Counter()
            for staff in element.findall(f"{MEI}staff"):
                for layer in staff.findall(f"{MEI}layer"):
                    _layer(layer, Fraction(0), Fraction(1), shifts.get(staff.get("n", ""), 0), bar)
            found.append(+bar)
    return found


def _layer(parent: ElementTree.Element, now: Fraction, scale: Fraction, shift: int,
           bar: Counter[tuple[Fraction, int]]) -> Fraction:
    for child in parent:
        name = child.tag.removeprefix(MEI)
        if child.get("grace") or name == "graceGrp" or child.get("cue") == "true":
            continue
        if name == "tuplet":
            size = Fraction(int(child.get("numbase", "1")), int(child.get("num", "1")))
            now = _layer(child, now, scale * size, shift, bar)
        elif name == "tabGrp":
            now += _length(child) * scale  # a TAB staff says places and no pitches
        elif name in ("beam", "bTrem", "fTrem", "ligature"):
            now = _layer(child, now, scale, shift, bar)
        elif name == "note":
            bar[now, _midi(child) + shift] += child.get("visible") != "false"
            now += _length(child) * scale
        elif name == "chord":
            shown = [note for note in child.iter(f"{MEI}note") if note.get("visible") != "false"]
            bar.update((now, _midi(note) + shift) for note in shown)
            now += _length(child) * scale
        elif name in ("rest", "space"):
            now += _length(child) * scale
    return now


def _length(element: ElementTree.Element) -> Fraction:
    word = element.get("dur", "4")
    length = _LENGTHS.get(word) or Fraction(4, int(word))
    dots = int(element.get("dots", "0"))
    return length * (2 - Fraction(1, 2 ** dots))


def _midi(note: ElementTree.Element) -> int:
    sign = note.get("accid.ges") or note.get("accid")
    for child in note.iter(f"{MEI}accid"):
        sign = child.get("accid.ges") or child.get("accid") or sign
    return 12 * (int(note.get("oct", "4")) + 1) + _STEPS[note.get("pname", "c")] + _SIGNS.get(sign or "n", 0)


def verovio_places(text: str) -> list[tuple[int, int, int, int | None]]:
    """(measure, string, fret, finger) of each note on the first staff of our own files, in the order of the MEI."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    tool = verovio.toolkit()
    tool.loadData(text)
    root = ElementTree.fromstring(tool.getMEI())
    fingers = {one.get("startid", "")[1:]: int("".join(one.itertext())) for one in root.iter(f"{MEI}fing")}
    found = []
    for number, measure in enumerate(root.iter(f"{MEI}measure")):
        staff = measure.find(f"{MEI}staff")
        assert staff is not None
        for note in staff.iter(f"{MEI}note"):
            name = note.get("{http://www.w3.org/XML/1998/namespace}id", "")
            if not note.get("grace"):
                found.append((number, int(note.get("tab.course", "0")), int(note.get("tab.fret", "-1")),
                              fingers.get(name)))
    return found


def differences(ours: Bars, theirs: Bars) -> list[int]:
    """Measures (from 0) in which the two do not hold the same notes at the same beats."""
    count = max(len(ours), len(theirs))
    empty: Counter[tuple[Fraction, int]] = Counter()
    padded = [bars + [empty] * (count - len(bars)) for bars in (ours, theirs)]
    return [index for index, (one, two) in enumerate(zip(*padded, strict=True)) if one != two]
