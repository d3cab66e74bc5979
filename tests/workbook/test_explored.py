"""What the explorer holds: rows and cells of the map against `substitutes`, its lines and cells against what they make.

Half steps into a chord are checked by hand (F falls to E and B rises to C from G7 to C: common practice, no source).
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import workbook.kit
from theorylib import STANDARD, Chart, Chord, substitutes
from theorylib.errors import VampError
from theorylib.names.arpeggios import KINDS, arpeggio
from theorylib.names.spelling import NoteName, note_names, pretty_accidentals
from workbook.draw.neck import plot_neck
from workbook.lesson.lesson import Lesson
from workbook.widgets.explored import Explored, half_step, kinds_data
from workbook.widgets.explored_lines import WAYS, phrase_code, picked_line
from workbook.widgets.explored_neck import boards_data, grips_data, shapes_data
from workbook.widgets.explored_sound import PARTS, backing_data, wants
from workbook.widgets.explored_still import still_html
from workbook.widgets.explored_take import as_new_lesson, cells_of, into_file, line_of
from workbook.widgets.explored_uses import named_places, uses_data
from workbook.widgets.explorer import Explorer

CHANGES = ("| Fm7 | Bb7#9 | Ebm7 | Abm9 |", "| G7 | Cmaj7 |", "| C7 | F7 | C7 | % |",
           "| Em7 | A7/C# D6/9 | N.C. | F#m7b5 |")
STATE: dict[str, Any] = {"chord": 1, "row": "10:m7b5", "drill": "into the next", "position": 6, "pins": [], "picks": []}


def namespace() -> dict[str, Any]:
    return {name: getattr(workbook.kit, name) for name in workbook.kit.__all__}


@pytest.mark.parametrize("changes", CHANGES)
def test_list_and_map_hold_what_substitutes_gives(changes: str) -> None:
    explored = Explored.of(changes)
    for number, view in enumerate(explored.views):
        data = explored.view_data(number)
        reading, chord = view.reading, view.chord
        asked = substitutes(chord, reading.home, view.following, scale=reading.scale)
        assert [row["text"] for row in data["rows"]] == [str(one.arpeggio) for one in asked]
        assert [row["id"] for row in data["rows"]] == [f"{one.step}:{one.kind}" for one in asked]
        assert len({row["id"] for row in data["rows"]}) == len(asked), "a cell of the map is one row"
        words = explored.words_data(number, {row["id"] for row in data["rows"]})
        for row, one in zip(data["rows"], asked, strict=True):
            reason, parts = words[row["id"]]
            assert (row["reach"], row["score"], row["halves"]) == (one.reach, one.score, len(one.half_steps))
            assert [data["notes"][pitch]["function"] for pitch in row["pitches"]] == [
                pretty_accidentals(degree) for degree in one.degrees]
            assert row["names"] == [name.pretty for name in one.arpeggio.names]
            assert reason == one.reason
            assert sum(worth for _, worth in parts) == pytest.approx(one.score, abs=0.01)


def test_a_chord_without_notes_has_no_view_and_the_same_place_one() -> None:
    explored = Explored.of("| Em7 | A7 | Em7 | A7 | N.C. | % |")
    assert explored.view_of == (0, 1, 0, 1, None, None)
    assert list(explored.words_data(0, {"0:7", "3:maj7", "99:7"})) == ["3:maj7", "0:7"]
    with pytest.raises(VampError, match="no chord 2"):
        explored.view_data(2)


def test_the_next_chord_is_the_next_that_differs() -> None:
    data = Explored.of("| C7 | % | F7 |").view_data(0)
    assert data["next"] == "F7"
    assert Explored.of("| C7 | % |").view_data(0)["next"] == ""


def test_half_steps_go_where_they_are_heard_to() -> None:
    ahead = Chord.parse("Cmaj7").pitch_classes
    ways = {name: half_step(NoteName(name).pitch_class, ahead) for name in ("G", "B", "D", "F", "Ab", "Db")}
    assert ways == {"G": 0, "B": 0, "D": 0, "F": -1, "Ab": -1, "Db": -1}
    assert half_step(NoteName("F").pitch_class, Chord.parse("F#").pitch_classes) == 1
    assert half_step(NoteName("B").pitch_class, Chord.parse("C7").pitch_classes) == -1, "downward where both are near"


def test_a_long_form_has_no_more_views_than_its_changes_ask_for() -> None:
    short, long = "| Fm7 | Bb7#9 | Ebm7 | Abm9 |", "| " + " | ".join(["Fm7", "Bb7#9", "Ebm7", "Abm9"] * 16) + " |"
    assert len(Explored.of(long).views) == len(Explored.of(short).views)
    assert Explored.of(long).view_data(1)["rows"] == Explored.of(short).view_data(1)["rows"]


def test_the_language_of_note_names_is_no_part_of_what_is_kept() -> None:
    explored = Explored.of("| Bb7 | Eb |")
    english = explored.view_data(0)["chord"]
    with note_names("german"):
        german = Explored.of("| Bb7 | Eb |").view_data(0)
    assert (english, german["chord"]) == ("B♭7", "B7")
    assert "Es" in json.dumps(german["rows"], ensure_ascii=False)
    assert explored.view_data(0)["chord"] == "B♭7"


@pytest.mark.parametrize("kind", KINDS)
def test_whatever_the_list_names_is_drawn_and_written(kind: str) -> None:
    other = arpeggio(NoteName("Cb"), kind)
    by_text, by_value = (plot_neck(one, over="Bb7#9") for one in (str(other), workbook.kit.arpeggio(str(other))))
    held = {name.pitch_class for name in other.names}
    sounding = {STANDARD.midi(dot.string, dot.fret) % 12 for dot in by_value.view.dots}
    assert sounding == held
    assert held <= {STANDARD.midi(dot.string, dot.fret) % 12 for dot in by_text.view.dots}
    assert kind in [one["kind"] for one in kinds_data()]


def test_every_way_gives_a_line_and_its_cell_makes_the_same() -> None:
    explored = Explored.of("tempo: 84\n| Fm7 | Bb7#9 | Ebm7 | Abm9 |")
    for way in WAYS:
        data = line_of(explored, STATE | {"drill": way, "bars": [1, 2]})
        made = eval(data["code"], namespace()).line
        assert [(note["string"], note["fret"]) for note in data["notes"]] == [
            (note.string, note.fret) for note in made.notes], way
        assert float(made.chart.tempo) == 84
        assert {note["over"] for note in data["notes"]} == {"B♭7♯9", "E♭m7"}


def test_cells_make_each_pin_and_the_arpeggio_at_hand() -> None:
    explored = Explored.of(CHANGES[0])
    neck, line = cells_of(explored, STATE)
    assert neck == 'plot_neck(arpeggio("G#m7b5"), over="Bb7#9", next_chord="Ebm7", position=6)'
    assert line == 'as_drill(superimposed_arpeggio("| Bb7#9 | Ebm7 |", "G#m7b5", 6))'
    pinned = cells_of(explored, STATE | {"pins": [[1, "6:7"], [0, "3:maj7"], [1, "1:mMaj7"]]})
    assert len(pinned) == 6
    for code in pinned:
        assert eval(code, namespace()) is not None
    assert cells_of(explored, STATE | {"row": ""})[0] == 'plot_neck("Bb7#9", next_chord="Ebm7", position=6)'


def test_clicked_places_leave_as_the_phrase_that_they_are() -> None:
    places = [(6, 3), (5, 5), (4, 3), (3, 3)]
    line = picked_line(places, Chart.parse("feel: swing\n| Gm7 | C9 |"), STANDARD, lambda pitch: None)
    made = eval(phrase_code(line), namespace()).line
    assert [(note.string, note.fret) for note in made.notes] == places
    assert made.chart.feel == "swing"
    named = named_places(places, Explored.of("| Gm7 | C9 |"), Explored.of("| Gm7 | C9 |").views[0].names())
    assert named["notes"] == ["G", "D", "F", "Bb"]
    assert named["chords"][0] == ["Gm7", "Gm7"]  # common practice, no source


def test_uses_here_and_in_the_open() -> None:
    found = uses_data("Em7", Explored.of("| C9 | Am7 | Em7 |"))
    assert [one["bar"] for one in found["here"]] == [1, 2, 3]
    # Em7 over Am7: 5 b7 9 11; over Cmaj7 it is 3 5 7 9 (common practice, no source)
    assert found["here"][1]["degrees"] == "5 ♭7 9 11"
    home = Explored.of("| Bb7#9 | Ebm7 |")
    assert uses_data("Abm7b5", home)["here"][0]["reach"] == next(
        row["reach"] for row in home.view_data(0)["rows"] if row["id"] == "10:m7b5"), "judged as in the list"
    assert "Cmaj7" in [one["chord"] for one in found["open"]]
    with pytest.raises(VampError, match="not a chord symbol"):
        uses_data("Hm7", Explored.of("| C9 |"))


def test_boards_hold_the_hand_and_shapes_their_bends() -> None:
    boards = boards_data(STANDARD)
    assert (boards["5"]["first"], boards["5"]["last"], boards["5"]["hand"]) == (4, 9, [5, 8])
    assert boards["1"]["first"] == 0
    # over a G blues the A on string 2 fret 10 bends a semitone to the minor third, a tone to the major (design, trade)
    shapes = shapes_data(Chord.parse("G7"), "1 9 6", STANDARD)
    bends = {(string, fret, by, degree) for shape in shapes for string, fret, by, degree, _ in shape["bends"]}
    assert {(2, 10, 1, "♭3"), (2, 10, 2, "3")} <= bends
    families = {}
    for shape in shapes:
        families.setdefault(shape["family"], []).append(shape)
    assert max(map(len, families.values())) > 1, "the same shape lies elsewhere too"
    assert {"places", "barre", "kind", "midis"} == set(grips_data(Chord.parse("Am7"), STANDARD)[0])


def test_the_bank_reaches_every_sound_of_a_backing() -> None:
    voices = {}
    for want in wants():
        voices.setdefault(want.voice, []).append(want.midi)
    chart = Chart.parse("feel: shuffle\n| C7 | F7 | G7alt | C7 |")
    for _, _, part, midi, gain in backing_data(chart):
        far = min(abs(midi - sampled) for sampled in voices[PARTS[part - 1]])
        assert far <= (0 if PARTS[part - 1] == "Drums" else 2)

        assert 0 < gain <= 1
    assert all(min(abs(midi - sampled) for sampled in voices["clean"]) <= 1 for midi in range(40, 89)), "E2 to E6"


def test_the_plain_page_shows_what_is_set_and_runs_nothing() -> None:
    explored = Explored.of(CHANGES[0])
    page = still_html(explored, STATE | {"picks": [[6, 6], [5, 8]]})
    assert page.count("<img ") == 3
    assert "G♯ø7" in page.split("<tbody>")[1].split("</tr>")[0], "the chosen arpeggio comes first"
    assert "<script" not in page
    assert "of 348" in page
    assert page == still_html(Explored.of(CHANGES[0]), STATE | {"picks": [[6, 6], [5, 8]]})


def test_a_file_keeps_what_it_held_and_a_new_lesson_replaces_none(tmp_path: Path) -> None:
    explored = Explored.of(CHANGES[0])
    said = as_new_lesson("Slack water", explored, STATE | {"tempo": 72, "feel": "swing"}, tmp_path)
    file = tmp_path / "slack-water.ipynb"
    assert str(file) in said
    lesson = Lesson.read(file)
    assert lesson.choices["tempo"] == 72
    assert [cell.source for cell in lesson.cells[-2:]] == cells_of(explored, STATE)
    before = file.read_bytes()
    with pytest.raises(VampError, match="slack-water"):
        as_new_lesson("Slack water", explored, STATE, tmp_path)
    assert file.read_bytes() == before
    assert "2 cells" in into_file(file, cells_of(explored, STATE))
    assert (tmp_path / "slack-water.ipynb.1").read_bytes() == before
    assert len(Lesson.read(file).cells) == len(lesson.cells) + 2


def answers(explorer: Explorer, **asked: Any) -> dict[str, Any]:
    """What the explorer sends to a question."""
    sent: list[dict[str, Any]] = []
    explorer.send = lambda content, buffers=None: sent.append(content)  # type: ignore[method-assign]
    explorer._asked(None, {"number": 7, **asked}, None)
    (answer,) = sent
    assert answer.pop("number") == 7
    json.dumps(answer)
    return answer


def test_questions_are_answered_and_refused_in_words() -> None:
    explorer = Explorer("| Gm7 | C9 |")
    assert answers(explorer, ask="view", view=1)["told"]["chord"] == "C9"
    told = answers(explorer, ask="read", changes="| Am7 | D7 | N.C. |", chord=2)["told"]
    assert told["chord"] == 1
    assert told["view"]["chord"] == "D7"
    refused = answers(explorer, ask="read", changes="| Am7 | H7 |")["problem"]
    assert refused["value"] == "H7"
    assert "column 9" in refused["says"]
    assert explorer.chart["events"][1]["chord"] == "D7", "the last good chart stays"
    assert "no chord" in answers(explorer, ask="view", view=9)["problem"]["says"]
    assert "cannot be done" in answers(explorer, ask="nothing")["problem"]["says"]
    assert answers(explorer, ask="homes")["told"]
    assert answers(explorer, ask="named", picks=[[6, 5], [5, 7]], chord=0)["told"]["code"].startswith("phrase(")


def test_the_backing_has_the_changes_own_feel_and_tempo_where_none_is_set() -> None:
    """In swing the second eighth lies late: two thirds into the beat (triplet swing, common practice, no source)."""
    swung = Explorer("feel: swing\ntempo: 72\n| Am7 | D9 |")
    hits = answers(swung, ask="backing", feel="", tempo=0)["told"]
    offs = {round(start % 1, 2) for start, _, part, *_ in hits if part == 3 and start % 1}
    assert offs == {0.67}
    assert hits != answers(swung, ask="backing", feel="straight 8", tempo=0)["told"]


def test_a_page_that_waits_is_answered_first_and_later_pages_are_told() -> None:
    explorer = Explorer("| Gm7 | C9 |")
    before = explorer.chart
    seen: list[bool] = []
    explorer.send = lambda content, buffers=None: seen.append(explorer.chart is before)  # type: ignore[method-assign]
    explorer._asked(None, {"number": 1, "ask": "read", "changes": "| Am7 |", "tuning": "drop D"}, None)
    assert seen == [True]
    assert explorer.chart["events"][0]["chord"] == "Am7"
    assert explorer.first == {}
    assert explorer.boards != Explorer("| Am7 |").boards


def test_the_place_is_the_same_whenever_the_cells_run_in_order() -> None:
    assert Explorer("| Gm7 |").mount == Explorer("| Gm7 |").mount != Explorer("| Gm9 |").mount


@pytest.fixture
def saved(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """A notebook with an explorer's cell as Jupyter saves it, its widget's state left out."""
    shown: list[dict[str, Any]] = []
    monkeypatch.setattr("IPython.display.display", lambda data, raw=False: shown.append(data))
    Explorer("| Fm7 | Bb7#9 | Ebm7 |", chord=1, row="10:m7b5")._ipython_display_()
    outputs = [{"output_type": "display_data", "data": data, "metadata": {}} for data in shown]
    cell = {"cell_type": "code", "id": "explore", "metadata": {}, "execution_count": 1, "source": "explore(…)",
            "outputs": outputs}
    return {"nbformat": 4, "nbformat_minor": 5, "metadata": {"language_info": {"name": "python"}}, "cells": [cell]}


def test_without_a_kernel_all_is_there_as_nbconvert_writes_it(saved: dict[str, Any]) -> None:
    """Chart, reading, list and neck, each picture with its words; nothing that a script must bring."""
    import nbformat
    from lxml import html as reader
    from nbconvert import HTMLExporter

    page, _ = HTMLExporter().from_notebook_node(nbformat.from_dict(saved))
    assert "widget-view" not in page
    assert "model not found" not in page.lower()
    still = reader.fromstring(page).xpath("//div[@class='vbx-still']")[0]
    chart, neck = (image.get("alt") for image in still.xpath(".//img"))
    assert chart.startswith("Chord chart")
    assert "string 1 fret 4" in neck.lower()
    assert all(image.get("src", "").startswith("data:image/svg+xml") for image in still.xpath(".//img"))
    rows = [row.text_content() for row in still.xpath(".//tbody/tr")]
    assert len(rows) == 12
    assert rows[0].startswith("G♯ø7"), "what was chosen stands first"
    assert "B♭7♯9 is V7♯9" in still.text_content()
    assert [head.get("scope") for head in still.xpath(".//th")] == ["col"] * 2, "so that reasons have room on a phone"
