"""A sound is made once for all processes, and never taken from a file that is not what was written."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from theorylib import Chart
from workbook.handouts import remembered, tracks
from workbook.handouts.remembered import sounds_of
from workbook.handouts.tracks import Sound, track_files
from workbook.lesson.lesson import Lesson
from workbook.play import sound, sound_cache
from workbook.play.backing import backing
from workbook.play.band import USUAL, Band
from workbook.play.bank import Want, bank_of, sample_seconds
from workbook.play.parts import Backing
from workbook.play.sound_cache import kept

LESSON = Path(__file__).resolve().parents[2] / "lessons" / "slack-water.ipynb"
PARTS = {"": b"the mix", "Bass": b"\n\x00", "empty": b"", "Comping": b"the last"}


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"


def never() -> dict[str, bytes]:
    raise AssertionError("it was kept, and made again")


def counted(monkeypatch: pytest.MonkeyPatch, module: object, name: str) -> list[str]:
    """A line for each call of a function from now on."""
    calls, work = [], getattr(module, name)

    def noted(*given: object, **more: object) -> object:
        calls.append(name)
        return work(*given, **more)

    monkeypatch.setattr(module, name, noted)
    return calls


def test_parts_come_back_as_they_were_made(folder: Path) -> None:
    assert kept("a", lambda: PARTS) == PARTS
    assert kept("a", never) == PARTS
    assert list(kept("a", never)) == list(PARTS), "in their order"
    assert kept("b", lambda: {"": b"another"}) == {"": b"another"}
    assert len(list(folder.iterdir())) == 2


@pytest.mark.parametrize("spoil", [
    lambda data: data[:-1], lambda data: data[:20], lambda data: b"", lambda data: data + b"x",
    lambda data: data.replace(b"mix", b"mux"), lambda data: b"{}\n", lambda data: b"[]\n",
])
def test_a_file_that_is_not_as_it_was_written_counts_for_none(spoil: Callable[[bytes], bytes], folder: Path) -> None:
    kept("a", lambda: PARTS)
    (file,) = folder.iterdir()
    file.write_bytes(spoil(file.read_bytes()))
    assert kept("a", lambda: {"": b"made again"}) == {"": b"made again"}
    assert kept("a", never) == {"": b"made again"}


def test_other_sources_libraries_or_voices_make_it_again(monkeypatch: pytest.MonkeyPatch) -> None:
    kept("a", lambda: PARTS)
    monkeypatch.setattr(sound_cache, "_makers", lambda: "other sources")
    assert kept("a", lambda: {"": b"2"}) == {"": b"2"}
    monkeypatch.setattr(sound_cache, "renderer_name", lambda: "another")
    assert kept("a", lambda: {"": b"3"}) == {"": b"3"}


def test_what_makes_sound_is_told_by_sources_samples_and_versions(tmp_path: Path,
                                                                  monkeypatch: pytest.MonkeyPatch) -> None:
    found = {sound_cache._makers.__wrapped__()}
    monkeypatch.setattr("importlib.metadata.version", lambda name: "9.9")
    found.add(sound_cache._makers.__wrapped__())
    monkeypatch.setattr(sound_cache, "__file__", str(tmp_path / "sound_cache.py"))
    (tmp_path / "sounds").mkdir()
    for name in ("level.py", "sounds/few.flac", "sounds/few.tables"):
        (tmp_path / name).write_text("1")
        found.add(sound_cache._makers.__wrapped__())
    (tmp_path / "level.py").write_text("2")
    found.add(sound_cache._makers.__wrapped__())
    assert len(found) == 6
    (tmp_path / "level.pyc").write_text("no source")
    assert sound_cache._makers.__wrapped__() in found


def test_what_was_asked_for_longest_ago_makes_room(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sound_cache, "MOST_MB", 0.003)
    for second, said in enumerate("abc"):
        kept(said, lambda: {"": b"x" * 800})
        for file in folder.iterdir():
            if file.stat().st_mtime > 1000:
                os.utime(file, (second, second))
    kept("a", never)  # asked for again: now the newest
    kept("d", lambda: {"": b"x" * 800})
    for said in "ad":
        kept(said, never)
    assert len(list(folder.iterdir())) == 3, "b, which was asked for longest ago, is gone"
    kept("c", never)


def test_a_cache_that_cannot_be_written_costs_time_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VAMPBOOK_CACHE", "/dev/null/nowhere")
    assert kept("a", lambda: PARTS) == PARTS
    assert kept("a", lambda: {"": b"again"}) == {"": b"again"}


def test_a_page_s_bank_is_rendered_once_and_comes_back_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    lengths = {want: sample_seconds(want, 1.0) for want in (Want("clean", 60, 95), Want("Bass", 36, 95),
                                                            Want("Drums", 42, 55))}
    plain = bank_of(lengths)
    assert sounds_of(lengths, None) == plain
    calls = counted(monkeypatch, remembered, "bank_of")
    remembered._sounds.cache_clear()  # as another process begins
    assert sounds_of(lengths, None) == plain
    assert not calls
    assert sounds_of({**lengths, Want("clean", 61, 95): 0.5}, None) != plain
    assert len(calls) == 1
    for _ in range(2):  # a SoundFont of the teacher's own may change between two builds
        sounds_of(lengths, sound.SAMPLES)
    assert len(calls) == 3


def test_a_track_is_encoded_once_for_all_who_hear_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[Sound] = []

    def encoded(track: Backing, wanted: Sound) -> dict[str, bytes]:
        made.append(wanted)
        return {part: f"{part} {len(made)}".encode() for part in ("", "Bass")[:1 + wanted.stems]}

    monkeypatch.setattr(tracks, "_encoded", encoded)
    lesson, wanted = Lesson.read(LESSON), Sound("ogg", minutes=0.1)
    first = track_files(lesson, wanted)
    named = track_files(lesson.with_about(title="Another title"), wanted)
    assert (first["backing.ogg"], named["backing.ogg"], len(made)) == (b" 1", b" 1", 1)
    assert named["backing.mid"] != first["backing.mid"]
    others = [replace(wanted, **change) for change in (
        {"form": "flac"}, {"click": True}, {"minutes": 0.4}, {"band": Band(ending=False)}, {"stems": True})]
    found = [track_files(lesson, other) for other in others]
    assert made == [wanted, *others]
    assert {name: found[-1][name] for name in ("backing.ogg", "backing-bass.ogg")} == {
        "backing.ogg": b" 6", "backing-bass.ogg": b"Bass 6"}
    assert [track_files(lesson, other) for other in others] == found
    assert len(made) == 6
    for _ in range(2):  # a SoundFont of the teacher's own may change between two builds
        track_files(lesson, replace(wanted, soundfont=sound.SAMPLES))
    assert len(made) == 8


def test_all_that_is_heard_of_a_track_is_told() -> None:
    chart = Chart.parse("tempo: 100\n| Am7 | D7 |")
    same = backing(chart, USUAL, passes=2)
    assert same.heard == backing(chart, USUAL, passes=2).heard
    others = [replace(same, tempos=((same.tempos[0][0], same.tempos[0][1] + 1),)), replace(same, loops=True),
              replace(same, count_in_beats=same.count_in_beats + 1), replace(same, hits=same.hits[1:]),
              replace(same, length_beats=same.length_beats + 1),
              *(replace(same, players={**same.players, part: replace(same.style, mix_db={bus: 3})})
                for part, bus in (("Drums", "drums"), ("Bass", "bass"), ("Comping", "comp"))),
              replace(same, style=replace(same.style, mix_db={"click": 3})),
              replace(same, players={**same.players, "Comping": replace(same.style, comp_voice="organ")})]
    assert len({one.heard for one in (same, *others)}) == len(others) + 1
