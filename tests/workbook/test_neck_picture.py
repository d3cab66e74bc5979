"""Neck diagrams: where each marker stands, read from the SVG and from matplotlib's artists.

The places are checked by MIDI arithmetic (MIDI 1.0: a fret is a semitone); contrast by WCAG 2.1's formula.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from itertools import combinations, pairwise

import pytest

from theorylib import Chord, Scale, Tuning, continuous_arpeggio, finger
from theorylib.errors import NeckError
from theorylib.necks.shapes import near_fret, target_shapes
from theorylib.necks.tunings import STANDARD
from workbook.draw.markers import BEND, GROUND, MARKERS, QUIET, WIRE, contrast
from workbook.draw.neck import NeckPicture, plot_neck
from workbook.draw.neck_board import Board, Sizes, board_data
from workbook.draw.neck_svg import LYING, _Frame
from workbook.draw.neck_view import NeckView, mirrored
from workbook.fonts import text_width

SVG = "{http://www.w3.org/2000/svg}"
VIEWS = {
    "position": {"what": "G dorian", "over": "Gm7", "position": 3},
    "whole neck": {"what": "G altered", "over": "G7#9"},
    "chord": {"what": "E9", "position": 5},
    "left-handed": {"what": "Am7", "position": 5, "left_handed": True},
    "upright": {"what": "Am7", "position": 5, "vertical": True},
    "names": {"what": "F# lydian", "frets": (0, 12), "labels": "names"},
    "seven strings": {"what": "Em7", "tuning": "seven-string", "frets": (0, 12)},
    "capo": {"what": "A", "tuning": "standard capo 2", "frets": (0, 7)},
    "large": {"what": "Am7", "position": 5, "large_print": True},
    "hints": {"what": "Am7", "position": 5, "next_chord": "D7"},
}


def picture(name: str) -> NeckPicture:
    asked = dict(VIEWS[name])
    turned = {word: asked.pop(word) for word in ("left_handed", "vertical", "large_print") if word in asked}
    frets, labels = asked.pop("frets", None), asked.pop("labels", "degrees")
    drawn = plot_neck(**asked).labelled(labels).turned(**turned)
    return drawn if frets is None else drawn.between(*frets)


def view(name: str) -> NeckView:
    return picture(name).view


@pytest.mark.parametrize("name", VIEWS)
def test_every_marker_between_its_wires_on_its_string(name: str) -> None:
    seen = view(name)
    frame = _Frame.of(seen)
    for dot in seen.dots:
        x, y = frame.note(dot.string, dot.fret)
        along, across = (y, x) if seen.turn.vertical else (x, y)
        if dot.fret:
            axis = 1 if seen.turn.vertical else 0
            edges = sorted(frame.point(frame.board.wire(fret), 0)[axis] for fret in (dot.fret - 1, dot.fret))
            assert edges[0] < along < edges[1]
            assert along - edges[0] == pytest.approx(LYING.fret / 2)
        assert across == pytest.approx(frame.point(0, frame.board.string(dot.string))[0 if seen.turn.vertical else 1])


@pytest.mark.parametrize("name", VIEWS)
def test_places_sound_what_they_say(name: str) -> None:
    seen = view(name)
    options = VIEWS[name]
    thing = Scale.parse(options["what"]) if " " in options["what"] else Chord.parse(options["what"])
    allowed = {note.pitch_class for note in thing.names}
    if "over" in options:
        allowed |= {note.pitch_class for note in Chord.parse(options["over"]).names}
    opens = [pitch.midi for pitch in seen.tuning.open_strings]
    found = set()
    for dot in seen.dots:
        pitch_class = (opens[dot.string - 1] + seen.tuning.capo + dot.fret) % 12
        assert pitch_class in allowed
        found.add(pitch_class)
    assert found == allowed


@pytest.mark.parametrize("name", VIEWS)
def test_nothing_is_cut_and_no_markers_touch(name: str) -> None:
    shown = picture(name)
    root = ElementTree.fromstring(shown.svg)
    width, height = map(float, root.get("viewBox").split()[2:])
    for node in root.iter(f"{SVG}text"):
        wide = text_width(node.text, float(node.get("font-size")), bold=node.get("font-weight") == "bold")
        left = float(node.get("x")) - {"middle": wide / 2, "start": 0}[node.get("text-anchor")]
        assert left >= 0
        assert left + wide <= width
        assert 0 < float(node.get("y")) < height
    seen = view(name)
    frame = _Frame.of(seen)
    for one, two in combinations(seen.dots, 2):
        (x1, y1), (x2, y2) = frame.note(one.string, one.fret), frame.note(two.string, two.fret)
        assert max(abs(x1 - x2), abs(y1 - y2)) >= LYING.gap


@pytest.mark.parametrize("name", VIEWS)
def test_labels_lie_inside_their_markers(name: str) -> None:
    from workbook.draw.neck_svg import RADIUS, _letter

    for dot in view(name).dots:
        marker = MARKERS[dot.role]
        assert text_width(dot.label, _letter(dot.label, marker), bold=True) <= 1.7 * RADIUS * marker.size


@pytest.mark.parametrize("name", VIEWS)
def test_twice_mirrored_is_the_same(name: str) -> None:
    seen = view(name)
    assert mirrored(mirrored(seen)) == seen
    one, two = _Frame.of(seen), _Frame.of(mirrored(seen))
    for dot in seen.dots:
        x1, x2 = one.note(dot.string, dot.fret)[0], two.note(dot.string, dot.fret)[0]
        assert x1 + x2 == pytest.approx(one.width)


def test_contrast() -> None:
    """WCAG 2.1: black on white is 21:1 and #767676 on white 4.54:1 (its own examples); text 4.5:1, graphics 3:1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)
    for marker in MARKERS.values():
        assert contrast(marker.ink, marker.fill) >= 4.5
        assert max(contrast(marker.fill, GROUND), contrast(marker.stroke, GROUND)) >= 3
    assert contrast(QUIET, GROUND) >= 4.5
    assert min(contrast(WIRE, GROUND), contrast(BEND, GROUND)) >= 3


def test_roles_differ_in_shape() -> None:
    shapes = {role: (marker.corners, marker.size < 0.9) for role, marker in MARKERS.items()}
    assert len(set(shapes.values())) == len(MARKERS)


@pytest.mark.parametrize(("name", "over", "label", "pitch_class"), [
    ("C6", None, "6", 9), ("Am6", None, "6", 6), ("C6", "C6", "6", 9), ("Cmaj7", None, "7", 11),
    ("Bbm7", None, "♭7", 8)])
def test_a_sixth_of_a_chord_is_marked_as_a_seventh_is(name: str, over: str | None, label: str,
                                                      pitch_class: int) -> None:
    """A square that stands on its point, and its word in the legend; not the marker of the root or of a tension."""
    root = ElementTree.fromstring(plot_neck(name, over=over).between(0, 12).svg)
    signs = {f"{SVG}polygon", f"{SVG}circle"}
    marked = [shape for shape, node in pairwise(root.iter()) if shape.tag in signs and node.text == label]
    opens = (64, 59, 55, 50, 45, 40)  # E4 B3 G3 D3 A2 E2
    assert len(marked) == sum((one + fret) % 12 == pitch_class for one in opens for fret in range(13))
    for shape in marked:
        points = [tuple(map(float, point.split(","))) for point in shape.get("points", "").split()]
        assert len(points) == 4
        (top_x, top), (_, right), (foot_x, foot), (_, left) = points
        assert (top_x, right) == pytest.approx((foot_x, left))
        assert top < right < foot
    assert "7th or 6th" in [node.text for node in root.iter(f"{SVG}text")]
    assert {dot.role for dot in plot_neck("C major").view.dots if dot.label == "6"} == {"scale"}
    assert {dot.role for dot in plot_neck("C13").view.dots if dot.label == "13"} == {"tension"}


def test_words_of_the_picture() -> None:
    shown = picture("position")
    assert shown.alt.startswith("Guitar neck, G dorian over G minor seventh, position 3. string 6: fret 3 G (1), "
                                "fret 5 A (9)")
    assert "B flat (flat 3)" in shown.alt
    assert picture("whole neck").alt.count("fret ") > 50
    rows = shown.text.splitlines()
    assert rows[1].startswith("E  |")
    assert rows[1].count("|") == 6
    assert picture("position") == shown


def test_bends_are_arrows_to_the_fret_they_reach() -> None:
    shape = near_fret(target_shapes("G7", ["1", "9", "6"]), 9)
    seen = plot_neck(shape, over="G7").view
    found = {(arrow.string, arrow.from_fret, arrow.to_fret, arrow.label) for arrow in seen.arrows}
    assert {(2, 10, 11, "♭3"), (2, 10, 12, "3")} <= found
    assert all(arrow.to_fret <= seen.last_fret for arrow in seen.arrows)
    assert "bend string 2 fret 10 up a tone to 3" in plot_neck(shape, over="G7").alt
    assert plot_neck(shape, over="G7").bent(0).view.arrows == ()


def test_a_line_shows_its_fingers() -> None:
    line = finger(continuous_arpeggio("Gm7", position=3), position=3)
    seen = plot_neck(line).labelled("fingers").view
    assert {(dot.string, dot.fret): dot.label for dot in seen.dots} == {
        (note.string, note.fret): str(note.finger) for note in line.notes}
    with pytest.raises(NeckError, match="call finger"):
        plot_neck(continuous_arpeggio("Gm7"))


def test_matplotlib_draws_the_same_places() -> None:
    from matplotlib.figure import Figure

    ax = Figure().subplots()
    assert plot_neck("Gm7", position=3, ax=ax) is ax
    dots = plot_neck("Gm7", position=3).view.dots
    labels = {(round(text.get_position()[0] + 0.5), text.get_position()[1]): text.get_text() for text in ax.texts}
    assert labels == {(dot.fret, dot.string): dot.label for dot in dots}
    assert ax.get_ylim()[0] > ax.get_ylim()[1], "string 1 stands on top"


@pytest.mark.parametrize(("make", "message"), [
    (lambda: plot_neck("Bm77"), "a scale such as B dorian or an arpeggio such as .*; did you mean Bm7"),
    (lambda: plot_neck("B dorean"), "did you mean B dorian"),
    (lambda: plot_neck("Bm7").labelled("colours"), "are not labels"),
    (lambda: plot_neck("Bm7", position=40), "no position 40"),
    (lambda: plot_neck("Bm7").between(5, 40), "no frets 5 to 40"),
    (lambda: plot_neck("Bm7").between(9, 5), "no frets 9 to 5"),
])
def test_refusals(make, message: str) -> None:
    with pytest.raises(NeckError, match=message):
        make()


def test_a_neck_can_be_turned_back() -> None:
    plain = plot_neck("Am7", position=5)
    turned = plain.turned(left_handed=True, vertical=True)
    assert turned.svg != plain.svg
    assert turned.turned(left_handed=False, vertical=False) == plain.turned(left_handed=False)
    assert turned.turned().view.turn == turned.view.turn


def test_other_tunings_keep_their_names() -> None:
    assert plot_neck("Em7", Tuning.parse("seven-string")).view.strings == 7
    assert picture("seven strings").svg.count(">E<") >= 2


@pytest.mark.parametrize(("frets", "along"), [((0, 4), [0.4, 1.3, 2.3, 3.3, 4.3]), ((5, 8), [0.5, 1.5, 2.5, 3.5])])
def test_the_board_is_told_to_a_browser_in_numbers(frets: tuple[int, int], along: list[float]) -> None:
    """Worked out by hand: frets of one unit behind a column of 0.8 for open strings, strings two apart."""
    board = Board(*frets, 6, Sizes(fret=1.0, open=0.8, gap=2.0))
    told = board_data(board, STANDARD)
    assert told["notes"] == [[fret, pytest.approx(place)] for fret, place in zip(range(frets[0], frets[1] + 1), along,
                                                                                 strict=True)]
    assert told["strings"] == [0, 2, 4, 6, 8, 10]
    assert told["wires"][0] == ([0, pytest.approx(0.8)] if frets[0] == 0 else [4, 0])
    assert [one - two for (_, one), (_, two) in zip(told["wires"][1:], told["wires"], strict=False)] == pytest.approx(
        [1.0] * 4)
    assert told["along"] == pytest.approx(told["wires"][-1][1])
    assert told["names"] == list("EBGDAE")
    assert told["inlays"] == ([3] if frets[0] == 0 else [5, 7])
    assert board.from_nut(board.middle(frets[1])) == pytest.approx(frets[1] - 0.5)


def test_a_capo_moves_the_numbers_and_not_the_dots() -> None:
    """With a capo at 2 the dot of the wood's 5th fret lies at what is counted as the 3rd."""
    tuning = replace(STANDARD, capo=2)
    assert board_data(Board(1, 6, 6, LYING), tuning)["inlays"] == [1, 3, 5]
