"""Staff and TAB: where things stand, read from the SVG; nothing is measured in pixels of a picture.

music21 (BSD-3) gives a second opinion on accidentals.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations, pairwise

import pytest
from support.music import INVENTED, arpeggio, line_of_durations
from support.techniques import mark, note

from theorylib import Chart, Line, Note, Pitch, finger
from theorylib.playing.notation import accidentals, written_bars
from theorylib.practice.strumming import strummed
from workbook.draw.mei import mei_of
from workbook.draw.score import score
from workbook.draw.tab_text import tab_text
from workbook.fonts import CAP_HEIGHT, text_width

SVG = "{http://www.w3.org/2000/svg}"
KEYS = ("C", "G", "D", "A", "E", "B", "F#", "Db", "Ab", "Eb", "Bb", "F")


def root_of(line: Line, **options: object) -> ElementTree.Element:
    return ElementTree.fromstring(score(line, **options).svg)  # type: ignore[arg-type]


def groups(root: ElementTree.Element, kind: str) -> list[ElementTree.Element]:
    return [node for node in root.iter(f"{SVG}g") if node.get("class") == kind]


def boxes(root: ElementTree.Element) -> list[tuple[str, float, float, float, float]]:
    """(words, left, top, right, bottom) of every text we set."""
    found = []
    for node in root.iter(f"{SVG}text"):
        words, size = "".join(node.itertext()), node.get("font-size", "0").removesuffix("px")
        if not words.strip() or node.get("font-family") is None:
            continue
        size, x, y = float(size), float(node.get("x", 0)), float(node.get("y", 0))
        wide = text_width(words, size, bold=node.get("font-weight") == "bold")
        left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[node.get("text-anchor", "start")]
        found.append((words, left, y - 0.76 * size, left + wide, y + 0.02 * size))
    return found


def overlaps(root: ElementTree.Element, slack: float = 12.0) -> list[tuple[str, str]]:
    return [(one[0], two[0]) for one, two in combinations(boxes(root), 2)
            if min(one[3], two[3]) - max(one[1], two[1]) > slack and min(one[4], two[4]) - max(one[2], two[2]) > slack]


@pytest.mark.parametrize("name", INVENTED)
def test_each_digit_reads_its_fret_on_its_string(name: str) -> None:
    line = INVENTED[name]
    root = root_of(line)
    staves = [[float(re.match(r"M[\d.-]+ ([\d.-]+)", path.get("d", ""))[1]) for path in staff.findall(f"{SVG}path")]
              for staff in groups(root, "staff")]
    strings = len(line.tuning.open_strings)
    tabs = [sorted(set(lines)) for lines in staves if len(set(lines)) == strings]
    digits = {node.get("id"): node for node in groups(root, "note") if (node.get("id") or "").startswith("t")}
    assert {int(name[1:]) for name in digits if "." not in name} == set(range(len(line.notes)))
    for name, node in digits.items():
        note = line.notes[int(name[1:].split(".")[0])]
        text = node.find(f"{SVG}text")
        assert "".join(text.itertext()) == str(note.fret)
        middle = float(text.get("y")) - float(text.get("font-size").removesuffix("px")) * CAP_HEIGHT / 2
        gap = min(abs(middle - tab[note.string - 1]) for tab in tabs)
        assert gap < 12, "the digit stands on its string, within a fifteenth of the distance of strings"


def test_sixteenths_are_beamed_by_the_beat() -> None:
    """In what the engraver is given and in what it draws: two beams of four, and one of four plain eighths."""
    line = line_of_durations([Fraction(1, 4)] * 8 + [Fraction(1, 2)] * 4)
    given = ElementTree.fromstring(mei_of(line).text).iter("{http://www.music-encoding.org/ns/mei}beam")
    beams = [[note.get("{http://www.w3.org/XML/1998/namespace}id") for note in beam] for beam in given]
    assert beams == [["n0", "n1", "n2", "n3"], ["n4", "n5", "n6", "n7"], ["n8", "n9", "n10", "n11"]]
    drawn = [[node.get("id") for node in beam.iter(f"{SVG}g") if node.get("class") == "note"]
             for beam in groups(root_of(line), "beam")]
    assert drawn == beams


def white_grounds(root: ElementTree.Element) -> Iterator[tuple[ElementTree.Element, tuple[float, float, float, float]]]:
    """(what is drawn next, left, top, right, bottom) of each white rectangle within the systems."""
    for one, two in pairwise(groups(root, "page-margin")[0].iter()):
        if one.tag == f"{SVG}rect" and one.get("fill") == "#ffffff":
            x, y, wide, high = (float(one.get(name, "0")) for name in ("x", "y", "width", "height"))
            yield two, (x, y, x + wide, y + high)


@pytest.mark.parametrize("frets", [(7, 10, 12, 9), (22, 11, 5, 21)])
def test_no_string_runs_through_a_fret_of_two_figures(frets: tuple[int, ...]) -> None:
    """The engraver cuts the string for one figure; two stand on a white ground as wide as they are, drawn before."""
    notes = tuple(Note(Pitch.of_midi(55 + fret), Fraction(beat), Fraction(1), 3, fret)  # the third string is G3
                  for beat, fret in enumerate(frets))
    root = root_of(finger(Line(notes, Chart.parse("| C |"))))
    digits = {"".join(node.itertext()): node for name in range(4) for node in root.iter(f"{SVG}g")
              if node.get("id") == f"t{name}"}
    assert set(digits) == {str(fret) for fret in frets}
    grounds = {"".join(node.itertext()): box for node, box in white_grounds(root)}
    assert set(grounds) == {str(fret) for fret in frets if fret > 9}
    drawn = list(root.iter())
    strings = max(drawn.index(path) for staff in groups(root, "staff") for path in staff.findall(f"{SVG}path"))
    for text, (left, top, right, bottom) in grounds.items():
        node = digits[text].find(f"{SVG}text")
        assert drawn.index(node) > strings, "over the strings"
        size, x, y = (float(node.get(name, "0").removesuffix("px")) for name in ("font-size", "x", "y"))
        wide = text_width(text, size, bold=True)
        assert left <= x - wide / 2 < x + wide / 2 <= right
        assert top <= y - CAP_HEIGHT * size < y <= bottom  # the height of its figures
        assert right - left < 1.5 * wide


def test_a_grace_of_two_figures_has_its_ground() -> None:
    notes = (note("E5", "0", "2", 1, 12, mark("grace", "-2")), note("E5", "2", "2", 1, 12))
    grounds = [(node.text, box) for node, box in white_grounds(root_of(finger(Line(notes, Chart.parse("| C |")))))]
    assert sorted(text for text, _ in grounds) == ["10", "12", "12"]
    left, _, right, _ = next(box for text, box in grounds if text == "10")
    assert right - left >= text_width("10", 220, bold=True)


@pytest.mark.parametrize("key", KEYS)
def test_no_two_texts_overlap_in_any_key(key: str) -> None:
    chart = Chart.parse("[A] | F#m7b5 Bb7#9 | Ab13sus4/Eb C7alt |\n[Bridge] | Cmaj7#11 G7b9#11/B | Dm7 |",
                        key=f"{key} major")
    moved = chart.transpose(KEYS.index(key))
    assert overlaps(root_of(arpeggio(str(moved)))) == []


@pytest.mark.parametrize("name", INVENTED)
def test_nothing_overlaps_or_leaves_the_picture(name: str) -> None:
    root = root_of(INVENTED[name])
    assert overlaps(root) == []
    width, height = (float(part) for part in root.get("viewBox").split()[2:])
    page = groups(root, "page-margin")[0].get("transform")
    dx, dy = (float(part) for part in re.search(r"\(([\d.-]+), ([\d.-]+)\)", page).groups())
    for words, left, top, right, bottom in boxes(root):
        assert left + dx >= 0, words
        assert right + dx <= 10 * width, words
        assert top + dy >= 0, words
        assert bottom + dy <= 10 * height, words


def test_the_overlap_test_can_fail() -> None:
    root = root_of(INVENTED["eighths"])
    texts = [node for node in root.iter(f"{SVG}text") if node.get("font-family")]
    texts[1].set("x", texts[0].get("x"))
    texts[1].set("y", texts[0].get("y"))
    texts[1].set("text-anchor", texts[0].get("text-anchor"))
    assert overlaps(root)


def test_the_same_line_gives_the_same_bytes() -> None:
    one = score(INVENTED["swing"])
    score(INVENTED["eighths"])  # another engraving between must not matter
    assert score(INVENTED["swing"]) == one
    assert "Engraved by" not in one.svg


def test_long_lines_may_be_cut_between_systems() -> None:
    line = arpeggio("key: G major\n" + "| Gmaj7 | Em7 | Am7 | D7 |\n" * 4)
    picture = score(line)
    root = ElementTree.fromstring(picture.svg)
    assert len(picture.cuts) == len(groups(root, "system")) - 1 > 1
    page = groups(root, "page-margin")[0].get("transform")
    dy = float(re.search(r", ([\d.-]+)\)", page)[1])
    for cut in picture.cuts:
        assert not any(top + dy < 10 * cut < bottom + dy for _, _, top, _, bottom in boxes(root))
    assert len(score(line, large_print=True).cuts) > len(picture.cuts)


def test_alt_text_and_line_travel_with_the_picture() -> None:
    line = INVENTED["eighths"]
    picture = score(line)
    assert picture.alt.startswith("Continuous arpeggio, position 3: 4 bars over G minor seventh, C ninth. Bar 1. "
                                  "beat 1: chord G minor seventh; G 2, string 6 fret 3 finger 1, eighth; beat 1 and: ")
    assert len(re.findall("string", picture.alt)) == len(line.notes)
    assert Line.from_json(picture.extra["application/vnd.vampbook.line+json"]) == line


def test_text_tab_holds_every_fret_on_its_string() -> None:
    line = INVENTED["eighths"]
    rows = tab_text(line).splitlines()
    frets: dict[int, list[int]] = {string: [] for string in line.tuning.strings}
    names = [str(pitch.name) for pitch in line.tuning.open_strings]
    staves = [row for row in rows if "|" in row]
    for index, row in enumerate(staves):
        string = index % len(names) + 1
        assert row.startswith(names[string - 1])
        frets[string] += [int(word) for word in re.findall(r"\d+", row)]
    for string, found in frets.items():
        assert found == [note.fret for note in line.notes if note.string == string]
    assert all(len(row) <= 76 for row in rows)


@pytest.mark.parametrize("key", ["C major", "Eb major", "A major", "F# minor", "Db major"])
def test_accidentals_as_music21_would_print_them(key: str) -> None:
    """One known difference: music21 leaves out a natural that stands in another octave of the bar; we print it."""
    from music21 import key as m21_key
    from music21 import note as m21_note
    from music21 import stream

    tonic, mode = key.split()
    line = arpeggio(str(Chart.parse("| Cm7 | F#m7b5 | Bb7b9 | E7#9 |", key=key)), per_chord=8)
    for bar in written_bars(line):
        measure = stream.Measure()
        measure.keySignature = m21_key.Key(tonic.replace("b", "-"), mode)
        for item in bar:
            name = str(line.notes[item.notes[0]].pitch).replace("b", "-")
            measure.append(m21_note.Note(name, quarterLength=float(item.duration_beats)))
        measure.makeAccidentals(inPlace=True, cautionaryPitchClass=True, cautionaryNotImmediateRepeat=False)
        theirs = [note.pitch.accidental is not None and bool(note.pitch.accidental.displayStatus)
                  for note in measure.notes]
        signs = accidentals(line, bar)
        naturals: set[str] = set()
        for index, (item, printed) in enumerate(zip(bar, theirs, strict=True)):
            letter, sign = line.notes[item.notes[0]].pitch.name.letter, signs[index, item.notes[0]]
            assert (sign is not None) == printed or (sign == "n" and not printed and letter in naturals)
            naturals |= {letter} if sign == "n" else set()


def test_a_rhythm_part_shows_its_strokes_and_no_pitches() -> None:
    """Slashes where the strings sound, crosses where they are dead, the strokes above; no TAB, no fingers."""
    part = strummed(Chart.parse("| Am7 | D9 G13 |", feel="funk"), "advanced")
    assert part.is_rhythm_part
    assert not arpeggio("Am7").is_rhythm_part
    root = root_of(part)
    stacks = {}
    for one in part.notes:
        stacks.setdefault(one.onset_beats, one)
    heads = [node for node in root.iter(f"{SVG}g") if node.get("class") == "note"]
    struck = [node for node in heads if "." not in node.get("id")]
    assert len(struck) == len(stacks)
    assert len({places[1] for places in map(head_place, struck)}) == 1
    assert not [node for node in root.iter(f"{SVG}g") if node.get("class") in ("fing", "tabGrp", "accid")]
    shapes = {}
    for node, one in zip(struck, stacks.values(), strict=True):
        shapes.setdefault(bool(one.marked("dead")), set()).add(next(use.get(XLINK) for use in node.iter(f"{SVG}use")))
    assert len(shapes) == 2
    assert not shapes[True] & shapes[False]


XLINK = "{http://www.w3.org/1999/xlink}href"


def head_place(note_group: ElementTree.Element) -> tuple[str, str]:
    """Where a note's head stands: the two numbers of its translation."""
    use = next(note_group.iter(f"{SVG}use"))
    found = re.search(r"translate\(([-\d.]+)[ ,]+([-\d.]+)\)", use.get("transform"))
    return found[1], found[2]
