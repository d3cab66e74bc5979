"""Files of music as they lie on a disk: packed, in other encodings, misnamed, too large, or not there."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pytest
from support.documents import note, tune

from theorylib import Line, VampError
from theorylib.errors import MusicFileError
from workbook.exchange.music_files import line_of_text, read_music

BAR = note("A3", 48)


def packed(name: str, content: bytes, container: bool = True) -> bytes:
    made_file = io.BytesIO()
    with zipfile.ZipFile(made_file, "w", zipfile.ZIP_DEFLATED) as into:
        if container:
            into.writestr("META-INF/container.xml",
                          f'<container><rootfiles><rootfile full-path="{name}"/></rootfiles></container>')
        into.writestr(name, content)
    return made_file.getvalue()


def test_packed_files_open_and_bombs_do_not(tmp_path: Path) -> None:
    text = tune(BAR).encode()
    file = tmp_path / "tune.mxl"
    for content in (packed("a.xml", text), packed("deep/b.musicxml", text, container=False),
                    text.decode().encode("utf-16")):
        file.write_bytes(content)
        assert [str(one.pitch) for one in read_music(file).line.notes] == ["A3"]
    for content in (packed("a.xml", b"<a>" + b" " * 70_000_000), packed("a.xml", text)[:-40], b"PK\x03\x04",
                    packed("a.txt", text, container=False), b"", b"\xff\xfe<", b"\0" * 9):
        file.write_bytes(content)
        with pytest.raises(VampError):
            read_music(file)


def test_a_file_moved_to_another_key_keeps_the_changes_that_it_is_put_over(tmp_path: Path) -> None:
    file = tmp_path / "tune.musicxml"
    text = tune(BAR)
    assert "<fifths>0</fifths>" in text
    file.write_text(text.replace("<fifths>0</fifths>", "<fifths>0</fifths><mode>major</mode>"), encoding="utf-8")
    read = read_music(file, over="| Dm7 |", key="D major")
    assert [str(one.pitch) for one in read.line.notes] == ["B3"]  # A a whole step up, by hand
    assert [str(event.chord) for event in read.line.chart.events] == ["Dm7"]


def test_a_file_that_is_not_there_names_the_nearest(tmp_path: Path) -> None:
    (tmp_path / "walk.musicxml").touch()
    with pytest.raises(MusicFileError, match=r"cannot be opened.*did you mean walk\.musicxml"):
        read_music(tmp_path / "wakl.musicxml")


def test_notes_off_the_neck_say_which_octave_helps(tmp_path: Path) -> None:
    file = tmp_path / "high.musicxml"
    file.write_text(tune(note("A7", 48)), encoding="utf-8")
    with pytest.raises(VampError, match="did you mean octaves -2"):
        read_music(file)
    assert isinstance(line_of_text(tune(BAR)).line, Line)


LAUGHS = "<!DOCTYPE a [<!ENTITY b 'ha'>" + "".join(
    f"<!ENTITY b{number} '{f'&b{number - 1 or str()};' * 10}'>" for number in range(1, 10)) + "]><a>&b9;</a>"
BAR = note("A3", 48)


@pytest.mark.parametrize(("text", "told"), {
    "<score-partwise><part><measure>": "line 1, column",
    LAUGHS: "declares an entity",
    "<a>" * 100 + "</a>" * 100: "64 at most",
    tune(BAR).replace(">12<", ">0<"): "measure 1: .*0 divisions",
    tune(BAR).replace(">12<", ">-4<"): "measure 1: .*-4 divisions",
    tune(BAR).replace(">48<", ">-48<"): "measure 1: .*length of -4 beats",
    tune(BAR).replace(">48<", ">999999999<"): "measure 1: .*length of 333333333/4",
    tune(BAR).replace(">48<", ">1e9<"): "measure 1: .*no length",
    tune("<backup><duration>48</duration></backup>" + BAR): "measure 1: .*before the measure",
    tune(BAR).replace("<octave>3<", "<octave>99<"): "measure 1: .*no pitch",
    tune(BAR).replace("<step>A<", "<step>H<"): "measure 1: .*not a note name",
    tune(BAR).replace("<beats>4<", "<beats>0<"): "measure 1: .*meter of 0",
    tune(BAR).replace("score-partwise", "opus"): "<opus> holds no part",
    "<m:score-partwise xmlns:m='x'><m:part/></m:score-partwise>": "no notes",
    tune(note("", 48)): "no notes",
    "\ud800": "half a character",
}.items())
def test_what_cannot_be_read_is_one_located_line(text: str, told: str) -> None:
    with pytest.raises(MusicFileError, match=told) as refused:
        line_of_text(text)
    assert "\n" not in str(refused.value)


def test_a_million_notes_are_refused_by_number(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("workbook.exchange.musicxml_in.MOST_NOTES", 500)
    with pytest.raises(MusicFileError, match="more than 500 notes"):
        line_of_text(tune(*[note("A3", 3) * 16] * 40))
    monkeypatch.setattr("workbook.exchange.safe_xml.MOST_ELEMENTS", 1000)
    with pytest.raises(MusicFileError, match="more than 1,000 elements"):
        line_of_text(tune(*[note("A3", 3) * 16] * 40))
