"""A lesson over a teacher's own recording: heard, put beside the lesson with its bars, carried by the pack."""

from __future__ import annotations

import base64
import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from support.recordings import RATE, TRACKS, play
from support.track_lessons import edges, lesson_over

from theorylib import Line, Tuning, continuous_arpeggio, finger
from workbook.checking.usable import spelled_against_key
from workbook.cli import main
from workbook.handouts.errors import HandoutError
from workbook.handouts.own_track import own_track, page_track, told_of
from workbook.handouts.pack import BRIEF, pack_of
from workbook.handouts.page import lesson_page
from workbook.handouts.practice import PageSound
from workbook.lesson.lesson import Lesson
from workbook.library.moving import Target, moved
from workbook.listen.wishes import wishes
from workbook.media.grid_text import GridError, bars_text, read_bars
from workbook.play.own_recording import packed
from workbook.reader import Reader, read_by

CHART = "key: A minor\ntempo: 97\n| Am7 | D9 | Gmaj7 | E7 |\n"


def bar_at(text: str, moved_by: float) -> str:
    """The text with its first bar's comment changed, as a person might."""
    return f"# first bar at {read_bars(text)[0] + moved_by:.3f} s\n{text}"


# -- the bars as text ------------------------------------------------------------------------------------------------
def test_bars_read_back() -> None:
    times = [0.35 + 2.5 * bar for bar in range(33)]
    assert read_bars(f"| Am7 |\n{bars_text(times)}# a word") == pytest.approx(times, abs=0.0005)
    assert read_bars("| Am7 | D9 |") == ()


@pytest.mark.parametrize("words", ["1 2 x", "3 2 4", "1", "0 1 2000", "0.00 0.05", "1e3 2e3", "0 61", "-1 2"])
def test_bars_that_are_none_are_refused_with_what_was_expected(words: str) -> None:
    with pytest.raises(GridError, match=r"expected|bars"):
        read_bars(f"# bars at {words}\n")


def test_stated_bars_hold_until_something_else_is_said() -> None:
    text = CHART + bars_text([1.0 + 2.47 * bar for bar in range(5)])
    assert len(wishes(chart=text).bars) == 5
    assert len(wishes(chart=bar_at(text, 0.004)).bars) == 5
    assert wishes(chart=bar_at(text, 0.1)).bars == ()
    assert wishes(chart=text.replace("tempo: 97", "tempo: 48.5")).bars == ()
    assert wishes(chart=text, tempo=97).bars == ()
    assert wishes(chart=text, first_bar=1.5).bars == ()
    assert wishes(chart=text, meter="3/4").bars == ()


# -- a lesson from a recording ---------------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def waltz(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[float]]:
    """Sixteen bars of a waltz in a room, by a band that the chord model never heard; where its bars truly begin."""
    track = next(one for one in TRACKS if one.name == "waltz room")
    track = replace(track, passes=-(-16 // len(track.changes.split("|"))), drift=0.02)
    found = play(track)
    path = tmp_path_factory.mktemp("heard") / "waltz.flac"
    soundfile.write(path, found.audio, RATE)
    return path, found.downbeats


def new(folder: Path, title: str, *more: object) -> tuple[int, str]:
    said = CliRunner().invoke(main, ["new", title, "--folder", str(folder), "--no-run", *map(str, more)])
    return said.exit_code, said.output


def test_a_lesson_over_a_recording(tmp_path: Path, waltz: tuple[Path, list[float]]) -> None:
    source, truth = waltz
    folder = tmp_path / "lessons"
    status, said = new(folder, "Slow boat", "--track", source, "--meter", "3/4", "--passes", "8")
    assert status == 0, said
    assert sorted(path.name for path in folder.iterdir()) == ["slow-boat.ipynb", "waltz.flac", "waltz.grid.txt"]
    assert (folder / "waltz.flac").read_bytes() == source.read_bytes()
    assert said.count("have the right to") == 1
    grid = (folder / "waltz.grid.txt").read_text(encoding="utf-8")
    bars = np.array(read_bars(grid))[:-1]
    assert len(bars) == len(truth)
    assert np.abs(bars - truth).max() < 0.025, "the bars follow the drift"
    lesson = Lesson.read(folder / "slow-boat.ipynb")
    assert lesson.choices["track"] == "waltz.flac"
    assert lesson.choices["meter"] == "3/4"
    form = len(lesson.choices["changes"].strip("| \n").split("|"))
    assert lesson.choices["passes"] * form <= len(truth), "no line outlasts the recording"
    assert own_track(lesson).edges[0] == pytest.approx(truth[0], abs=0.025)
    corrected = grid.replace(f"{read_bars(grid)[0]:.3f}", f"{read_bars(grid)[0] + 0.004:.3f}")
    (folder / "waltz.grid.txt").write_text(corrected, encoding="utf-8")
    status, said = new(folder, "Slow boat again", "--track", folder / "waltz.flac")
    assert status == 0, said
    assert (folder / "waltz.grid.txt").read_text(encoding="utf-8") == corrected, "what was confirmed stays"
    assert Lesson.read(folder / "slow-boat-again.ipynb").choices["meter"] == "3/4"


def test_nothing_is_written_where_something_is_in_the_way(tmp_path: Path, waltz: tuple[Path, list[float]]) -> None:
    source, _ = waltz
    (tmp_path / "waltz.flac").write_bytes(b"mine")
    status, said = new(tmp_path, "Ebb", "--track", source, "--changes", "| Am7 | D9 |")
    assert status == 1
    assert "another recording" in said
    noise = tmp_path / "words.wav"
    noise.write_text("no sound", encoding="utf-8")
    status, said = new(tmp_path, "Ebb", "--track", noise)
    assert status == 1
    assert said.count("\n") == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["waltz.flac", "words.wav"]


# -- the pack --------------------------------------------------------------------------------------------------------
def test_the_pack_carries_the_recording_and_says_its_size(tmp_path: Path) -> None:
    lesson = lesson_over(tmp_path)
    pack = pack_of(lesson, paging=BRIEF)
    assert pack.beside[-2:] == ("ferry.wav", "ferry.grid.txt"), "a pack is built anew where they change"
    data = page_track(lesson, sounds=True)
    said = json.loads(pack.files["lesson.html"].split('id="practice-data">')[1].split("</script>")[0])
    assert said["track"]["bars"] == pytest.approx(list(edges()), abs=0.001)
    assert said["track"] == {**data, "file": "", "seconds": said["track"]["seconds"], "gain": 1}
    assert not any(line["backing"] for line in said["lines"])
    low, high = said["track"]["limits"]
    assert [one.words for one in told_of(own_track(lesson), data, lesson)] == [
        f"the page carries ferry.wav, {_mb(data['file'])} MB as MP3"]
    assert (low, high) == (46, 118)  # half and 1.3 of 91.4 a minute
    assert all(low <= tempo <= high for line in said["lines"] for tempo, _ in line["plan"])


def _mb(text: str) -> str:
    return f"{len(base64.b64decode(text)) / 1_000_000:.1f}"


def test_what_goes_into_the_page_sounds_like_the_recording(tmp_path: Path) -> None:
    lesson_over(tmp_path)
    whole, rate = soundfile.read(tmp_path / "ferry.wav")
    soundfile.write(tmp_path / "six.wav", np.repeat(whole[:, None], 6, axis=1)[::3], rate // 3)
    for name in ("ferry.wav", "six.wav"):
        made = packed(tmp_path / name)
        audio, rate = soundfile.read(io.BytesIO(made.mp3))
        assert (rate, audio.shape[-1] if audio.ndim > 1 else 1) == (RATE, 1)
        assert made.seconds == pytest.approx(len(whole) / RATE, abs=0.001)
        assert len(audio) / RATE == pytest.approx(made.seconds, abs=0.001), "its reader knows what is padding"
        assert len(made.mp3) < made.seconds * 24_000
        assert 0.5 < np.abs(audio).max() * made.gain <= 1.01


def test_a_recording_stays_in_its_key_and_must_be_there(tmp_path: Path) -> None:
    lesson = lesson_over(tmp_path)
    with pytest.raises(Exception, match="stays in its key"):
        moved(lesson, Target(key="A"), 0)
    (tmp_path / "ferry.grid.txt").write_text("| Gm7 | C9 |\n", encoding="utf-8")
    with pytest.raises(Exception, match=r"cell \d+.*|says nothing of the bars"):
        pack_of(lesson, paging=BRIEF)
    (tmp_path / "ferry.wav").unlink()
    with pytest.raises(Exception, match="not beside the lesson"):
        pack_of(lesson, paging=BRIEF)
    outside = lesson.with_sources({cell.number: cell.source.replace("ferry.wav", "../ferry.wav")
                                   for cell in lesson.cells if "track =" in cell.source})
    with pytest.raises(Exception, match="not beside the lesson"):
        own_track(outside)


# -- what does not belong together -----------------------------------------------------------------------------------
GRID = "key: G minor\nmeter: 4/4\n| Gm7 | C9 |\n"


def told_again(folder: Path, text: str) -> None:
    (folder / "ferry.grid.txt").write_text(f"{text}{bars_text(list(edges()))}", encoding="utf-8")


@pytest.mark.parametrize(("text", "words"), [
    ("| G#m7 | C#9 |\n", "stand 11 half steps above those of ferry.wav"),
    ("| Fm7 | Bb9 |\n", "stand 2 half steps above"),
    ("meter: 3/4\n| Gm7 | C9 |\n", "is in 4/4, ferry.wav in 3/4"),
    ("# heard in ferry.wav: 3:07, -18.2 LUFS\n| Gm7 | C9 |\n", "another recording than ferry.wav"),
])
def test_a_recording_of_other_music_is_refused(tmp_path: Path, text: str, words: str) -> None:
    """By hand: the lesson's changes are Gm7 and C9 in 4/4."""
    lesson = lesson_over(tmp_path)
    told_again(tmp_path, text)
    with pytest.raises(HandoutError, match=words) as refused:
        page_track(lesson, sounds=False)
    assert str(refused.value).startswith("cell "), "at the cell that names it"


@pytest.mark.parametrize("text", [GRID, "| Gm | C7 |\n", "| Gm7 Dm7 | C9 |\n", "", "| no chart |\n",
                                  f"# heard in a.wav: 0:{int(edges()[-1] + 0.3):02d}, -20 LUFS\n{GRID}"])
def test_what_a_teacher_corrects_in_the_text_is_taken(tmp_path: Path, text: str) -> None:
    lesson = lesson_over(tmp_path)
    told_again(tmp_path, text)
    assert page_track(lesson, sounds=False)["others"] == []


def test_a_recording_that_was_cut_or_renamed_is_told(tmp_path: Path) -> None:
    lesson = lesson_over(tmp_path)
    whole, rate = soundfile.read(tmp_path / "ferry.wav")
    bar = edges()[-1] - edges()[-2]
    soundfile.write(tmp_path / "ferry.wav", whole[:round((edges()[-1] - 0.9 * bar) * rate)], rate)
    assert page_track(lesson, sounds=False), "its last bar may be cut off"
    soundfile.write(tmp_path / "ferry.wav", whole[:round((edges()[-1] - 1.2 * bar) * rate)], rate)
    with pytest.raises(HandoutError, match=r"the bars in ferry.grid.txt end at \d+\.\d s, ferry.wav at"):
        page_track(lesson, sounds=False)
    (tmp_path / "ferry.wav").write_text("no sound", encoding="utf-8")
    with pytest.raises(HandoutError, match="no recording that can be read"):
        page_track(lesson, sounds=False)
    (tmp_path / "ferry.wav").rename(tmp_path / "Ferry 2.flac")
    with pytest.raises(HandoutError, match="not beside the lesson") as missing:
        page_track(lesson, sounds=False)
    assert missing.value.nearest == ("Ferry 2.flac",)


def at_tempo(lesson: Lesson, tempo: int) -> Lesson:
    return lesson.with_notebook(json.loads(json.dumps(lesson.notebook).replace("tempo: 92", f"tempo: {tempo}")))


@pytest.mark.parametrize(("tempo", "fits"), [(46, True), (45, False), (118, True), (119, False)])
def test_a_tempo_at_which_it_cannot_be_played_is_refused(tmp_path: Path, tempo: int, fits: bool) -> None:
    """Half and 1.3 of 91.4 a minute."""
    lesson = at_tempo(lesson_over(tmp_path), tempo)
    assert float(lesson.charts[0][1].tempo) == tempo
    if fits:
        page_track(lesson, sounds=False)
        return
    with pytest.raises(HandoutError, match=f"{tempo} is no tempo at which ferry.wav can be played") as refused:
        page_track(lesson, sounds=False)
    assert "46 to 118" in str(refused.value)


def test_a_student_slower_than_the_recording_can_go_is_told(tmp_path: Path) -> None:
    lesson = lesson_over(tmp_path)
    with read_by(Reader(tempos=(40, 80))):
        said = [one.words for one in told_of(own_track(lesson), page_track(lesson, sounds=False), lesson)]
    assert said == ["the page plays ferry.wav at ♩ = 46 to 118: the steps from 40 on begin at 46"]


def with_line(lesson: Lesson, line: Line, other: Line) -> Lesson:
    """The lesson with another line in the outputs that show one."""
    one, two = (json.dumps(each.to_json())[1:-1] for each in (line, other))
    return lesson.with_notebook(json.loads(json.dumps(lesson.notebook).replace(one, two)))


def test_a_line_on_other_changes_goes_without_the_recording(tmp_path: Path) -> None:
    lesson = lesson_over(tmp_path)
    (_, line), *_ = lesson.lines
    other = finger(continuous_arpeggio("| Dm7 | G7 | Cmaj7 | A7 |"))
    lesson = with_line(lesson, line, other)
    assert [str(one.chart) for _, one in lesson.lines] == [str(other.chart)]
    data = page_track(lesson, sounds=False)
    assert data["others"] == [1]
    assert [one.words for one in told_of(own_track(lesson), data, lesson)] == [
        f"{other.title} stands on other changes: the page plays it without ferry.wav"]
    said = json.loads(lesson_page(lesson, PageSound(bank=False)).split('id="practice-data">')[1].split("</script>")[0])
    assert said["track"]["others"] == [1]


def test_a_name_that_another_recording_has_is_refused(tmp_path: Path) -> None:
    """The text of a.wav lies where that of a.flac would."""
    soundfile.write(tmp_path / "a.flac", 0.1 * np.sin(np.arange(5 * RATE) / 20), RATE)
    text = f"# heard in a.wav: 0:09, -20 LUFS\n{CHART}# bars at 0 2 4 6\n"
    (tmp_path / "a.grid.txt").write_text(text, encoding="utf-8")
    status, said = new(tmp_path, "Ebb", "--track", tmp_path / "a.flac")
    assert status == 1
    assert "another recording than a.flac, which lasts 5.0 s" in said
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.flac", "a.grid.txt"]


def test_the_strings_of_a_tuning_are_named_as_they_are(tmp_path: Path) -> None:
    """Half a step down the strings are E♭ A♭ D♭ G♭ B♭ E♭ in any key, E minor too (common practice, no source)."""
    lesson = lesson_over(tmp_path)
    row = "E♭ A♭ D♭ G♭ B♭ E♭"
    (_, line), *_ = lesson.lines
    tuned = replace(line, tuning=Tuning.parse("half step down"))
    for words, faults in ((f"Tune first: {row}.", 0), ("Then play A♯.", 1)):
        with_words = lesson.with_sources({next(iter(lesson.prose))[0]: f"# Ferry\n\n{words}"})
        moved_to = with_line(with_words, line, tuned).with_about(key="E minor")
        found = [one.message for one in spelled_against_key(moved_to) if one.cell == 1]
        assert len(found) == faults, found
