"""Styles as text: ours and a teacher's copy, what is refused and where, and what a copy changes in the track."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from theorylib.changes.meters import FEELS
from workbook.play.backing import BASS, COMP, DRUMS, backing
from workbook.play.band import Band
from workbook.play.style import DENSITIES, DRUM_KEYS, StyleError
from workbook.play.style_text import FOLDER, as_style, read_style, style_named, style_names, style_text

SMALL = """# mine
style: quarry
steps: 2   # eighths
comp voice: guitar
pocket: snare 4, bass -2

[drums main]
hat: xo xo xo xO
kick: X. .. X. ..
kick: X. .x X. ..
[fills]
2: snare x. xx, low tom .. .x
[bass main]
R- 5- R- a-
[comp main]
X- .x -- .P
"""


def test_every_feel_and_dotted_meters_have_their_style() -> None:
    assert set(style_names()) == {*FEELS, "compound"}
    for name in style_names():
        assert style_named(name).name == name


@pytest.mark.parametrize("name", style_names())
def test_a_style_has_what_a_band_needs(name: str) -> None:
    """Six to eight comping rhythms and as many bass bars, pushes and rests among them; drums of each density; fills."""
    style = style_named(name)
    assert set(style.drums) == set(style.bass) == set(style.comp) == set(DENSITIES)
    assert 6 <= len(style.comp["main"]) <= 8
    assert len(style.bass["main"]) >= 5
    comping = [row for rows in style.comp.values() for row in rows]
    assert any("P" in row for row in comping)
    assert any(row[0] == "." for row in comping)
    for density, kit in style.drums.items():
        assert {drum for drum, _ in kit} <= set(DRUM_KEYS)
        assert sum(len(rows) for _, rows in kit) >= 6, density
        assert all(len(set(rows)) == len(rows) for _, rows in kit), density
    assert {1, 2} <= set(style.fills)
    for rows in (*style.comp.values(), *style.bass.values()):
        assert len(set(rows)) == len(rows)


@pytest.mark.parametrize("name", style_names())
def test_a_style_is_written_and_read_back(name: str) -> None:
    style = style_named(name)
    assert read_style(style_text(style)) == style
    assert style_text(read_style(style_text(style))) == style_text(style)


def test_a_small_style_is_read() -> None:
    style = read_style(SMALL)
    assert (style.name, style.steps, style.comp_voice) == ("quarry", 2, "guitar")
    assert style.drums["main"] == (("hat", ("xo xo xo xO",)), ("kick", ("X. .. X. ..", "X. .x X. ..")))
    assert style.fills == {2: ((("snare", "x. xx"), ("low tom", ".. .x")),)}
    assert style.pocket_ms == {"snare": 4, "bass": -2}
    assert read_style(style_text(style)) == style


def test_a_copied_file_changes_what_is_played(tmp_path: Path) -> None:
    text = (FOLDER / "rock.txt").read_text(encoding="utf-8")
    mine = tmp_path / "mine.txt"
    mine.write_text(text.replace("snare: .. X. .. X.", "snare: X. X. X. X."), encoding="utf-8")
    usual = backing("feel: rock\n| Am | G | F | G |", Band(ending=False), passes=4)
    changed = backing("feel: rock\n| Am | G | F | G |", Band(drums=mine, ending=False), passes=4)
    assert [usual.of(part) for part in (BASS, COMP)] == [changed.of(part) for part in (BASS, COMP)]
    assert usual.of(DRUMS) != changed.of(DRUMS)
    snares = [hit.start_beats for hit in changed.of(DRUMS) if hit.midi == DRUM_KEYS["snare"]]
    assert 0 in {beat % 4 for beat in snares}


@pytest.mark.parametrize(("old", "new", "words"), [
    ("style: quarry", "", "style:"), ("steps: 2", "steps: 9", "line 3.*1 to 6"),
    ("comp voice", "comp vioce", "line 4.*comp voice"), ("guitar", "banjo", "keys, guitar, organ, pad"),
    ("snare 4", "snaer 4", "the names are"), ("snare 4", "snare 99", "-40 to 40"),
    ("[drums main]", "[drum main]", "line 7.*drums main"), ("kick: X. .. X. ..", "kik: X. .. X. ..", "line 9.*kick"),
    ("xo xo xo xO", "xo xo x xO", "line 8.*2 signs"), ("xo xo xo xO", "xo xo xq xO", "line 8.*Xxog"),
    ("R- 5- R- a-", "R- 5- R-", "3 and 4 pulses"), ("R- 5- R- a-", "R- 5- Q- a-", "line 14.*R835"),
    ("X- .x -- .P", "X- P. -- .x", "line 16.*early"), ("2: snare", "two: snare", "line 12.*1 to 8"),
    ("low tom .. .x", "low tom .x", "line 12.*2 pulses"), ("low tom .. .x", "gong .. .x", "line 12.*no drum"),
    ("low tom .. .x", "low tom", "line 12.*a drum and its row"), ("[comp main]\nX- .x -- .P", "", "comp main"),
])
def test_what_cannot_be_read_is_said_with_its_line(old: str, new: str, words: str) -> None:
    assert old in SMALL
    with pytest.raises(StyleError, match=words):
        read_style(SMALL.replace(old, new))


def test_a_style_by_name_text_file_or_value(tmp_path: Path) -> None:
    assert as_style("rock") is style_named("rock")
    assert as_style(SMALL).name == "quarry"
    path = tmp_path / "quarry.txt"
    path.write_text(SMALL, encoding="utf-8")
    assert as_style(path) == as_style(str(path)) == as_style(as_style(SMALL))
    with pytest.raises(StyleError, match="rock"):
        as_style("rok")
    with pytest.raises(StyleError, match="there is no"):
        as_style(tmp_path / "none.txt")
    with pytest.raises(StyleError, match="at most"):
        read_style("#" * 30_000)


def test_hats_thin_out_when_fast() -> None:
    """Sixteenths above the style's own tempo become eighths; kick and snare stay."""
    kit = (("hat", ("xxxx xxxx xxxx xxxx",)), ("kick", ("X..x .... .... ....",)))
    style = replace(style_named("funk"), drums={"main": kit}, fills={})
    counts = {}
    for tempo in (100, 140):
        hits = backing(f"tempo: {tempo}\n| Am7 |", passes=1, band=Band(style=style, ending=False)).of(DRUMS)
        counts[tempo] = [sum(hit.midi == DRUM_KEYS[drum] for hit in hits) for drum in ("hat", "kick")]
    assert counts == {100: [16, 2], 140: [8, 2]}
