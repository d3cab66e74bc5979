"""A recording heard: tracks whose beats and chords are known (support/recordings.py), by mir_eval's measures."""

from __future__ import annotations

import io
import json
import os
import runpy
from dataclasses import replace
from functools import cache
from pathlib import Path

import mir_eval
import numpy as np
import pyloudnorm
import pytest
import soundfile
from click.testing import CliRunner
from support.recordings import DRUM, HAT, HELD_OUT, KICK, RATE, SNARE, TRACKS, Played, Track, other_font, play, sound_of

from theorylib import Chart, Scale
from workbook.cli import main
from workbook.kit import hear
from workbook.listen import chord_model
from workbook.listen.hearing import SURE, Heard, Listened, hear_recording, heard_as, listen_to
from workbook.listen.recording import ListenError, Recording, of_samples, read_recording
from workbook.listen.wishes import wishes

ROOT = Path(__file__).resolve().parents[2]
EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
BY_NAME = {track.name: track for track in TRACKS}
SHORT = ("minor groove", "waltz room", "drifting swing")
HARTE_ROOTS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


@cache
def played(name: str) -> tuple[Track, Played, Recording]:
    """A track, as long as it is where everything is tried, else a few bars of it."""
    track = BY_NAME[name]
    if not EXPLORE:
        track = replace(track, passes=-(-12 // len(track.changes.split("|"))))
    found = play(track)
    return track, found, of_samples(found.audio, RATE, name)


@cache
def listened(name: str) -> Listened:
    return listen_to(played(name)[2])


def hear_as(name: str, **given: object) -> Heard:
    """A track with what a person says of it; it is listened to once."""
    return heard_as(listened(name), wishes(**given))


def said(track: Track, found: Played, *, first_bar: bool) -> dict[str, object]:
    """What a person confirms."""
    given = {"tempo": track.tempo, "meter": f"{track.beats}/{track.unit}"}
    return given | ({"first_bar": found.downbeats[0]} if first_bar else {})


def harte(heard: Heard) -> list[str]:
    def of(chord: object) -> str:
        held = {(tone.name.pitch_class - chord.root.pitch_class) % 12 for tone in chord.tones}
        names = {(4, 7): "maj", (3, 7): "min", (4, 7, 10): "7", (4, 7, 11): "maj7", (3, 7, 10): "min7",
                 (3, 6, 10): "hdim7"}
        return f"{HARTE_ROOTS[chord.root.pitch_class]}:{names[tuple(sorted(held - {0}))]}"
    return [of(one.chord) for one in heard.chords]


def chord_scores(found: Played, heard: Heard) -> dict[str, float]:
    truth = np.array([one[:2] for one in found.chords])
    spans = np.array([(one.start_seconds, one.end_seconds) for one in heard.chords])
    return mir_eval.chord.evaluate(truth, [one[2] for one in found.chords], spans, harte(heard))


def beat_score(truth: list[float], heard: object, within: float) -> float:
    return mir_eval.beat.f_measure(np.array(truth), np.array(heard), within)


def correct(track: Track, found: Played, heard: Heard) -> list[bool]:
    """Of the chords that were heard as sure, which are right."""
    middles = [(one.start_seconds + one.end_seconds) / 2 for one in heard.chords]
    truth = [next((name for start, end, name in found.chords if start <= middle < end), "") for middle in middles]
    return [one == other for one, other, chord in zip(harte(heard), truth, heard.chords, strict=True)
            if chord.confidence >= SURE]


@pytest.mark.skipif(not EXPLORE, reason="a quarter of an hour of music: VAMPBOOK_EXPLORE=1")
def test_the_held_out_tracks():
    """Charts that nothing was tried on, through a SoundFont of Debian's where one is installed."""
    rows, sure, asked = [], [], 0
    for track in HELD_OUT:
        found = play(track, other_font())
        recording = of_samples(found.audio, RATE, track.name)
        once = listen_to(recording)
        free = heard_as(once, wishes())
        three = any(abs(one / track.tempo - 1) < 0.04 for one in (free.tempo, *free.grid.rivals[:2]))
        picked = heard_as(once, wishes(**said(track, found, first_bar=False)))
        heard = heard_as(once, wishes(**said(track, found, first_bar=True)))
        scores = chord_scores(found, heard)
        asked += len(heard.unsure_bars)
        sure += correct(track, found, heard)
        rows.append((three, beat_score(found.beats, picked.grid.beats, 0.025),
                     beat_score(found.downbeats, picked.grid.downbeats, 0.07),
                     *(scores[one] for one in ("root", "majmin", "sevenths"))))
        print(track.name, *(f"{one:.2f}" for one in rows[-1]), *heard.keys)
    mean = np.mean(rows, axis=0)
    print("mean", mean.round(3), f"sure and right {np.mean(sure):.3f}, to confirm a chart {asked / len(HELD_OUT):.1f}")
    assert mean[0] == 1
    assert mean[1] >= 0.97
    assert mean[2] >= 0.93
    assert mean[4] >= 0.92
    assert mean[5] >= 0.83
    assert np.mean(sure) >= 0.95


@pytest.mark.parametrize("name", BY_NAME if EXPLORE else SHORT)
def test_a_track_is_heard_when_tempo_and_meter_are_confirmed(name: str):
    track, found, _ = played(name)
    free = hear_as(name)
    three = (free.tempo, *free.grid.rivals[:2])
    assert any(abs(one / track.tempo - 1) < 0.04 for one in three), "among the first three"
    heard = hear_as(name, **said(track, found, first_bar=False))
    assert beat_score(found.beats, heard.grid.beats, 0.025) >= 0.97
    assert beat_score(found.downbeats, heard.grid.downbeats, 0.07) >= 0.93
    assert str(heard.meter) == f"{track.beats}/{track.unit}"


def test_chords_with_the_grid_confirmed():
    scores, sure = [], []
    for name in BY_NAME if EXPLORE else SHORT:
        track, found, _ = played(name)
        heard = hear_as(name, **said(track, found, first_bar=True))
        scores.append([chord_scores(found, heard)[one] for one in ("root", "majmin", "sevenths")])
        sure += correct(track, found, heard)
    root, majmin, sevenths = np.mean(scores, axis=0)
    print(f"root {root:.3f}, maj/min {majmin:.3f}, sevenths {sevenths:.3f}, sure and right {np.mean(sure):.3f}")
    assert root >= 0.95
    assert majmin >= 0.92
    assert sevenths >= 0.86
    assert len(sure) > 20
    assert np.mean(sure) >= 0.95


def test_key_cycle_tuning_and_sections():
    track = BY_NAME["minor groove"]
    heard = hear_as("minor groove")
    assert str(heard.keys[0]) == track.key
    assert heard.changes.cycle == 2
    assert heard.tempo == pytest.approx(96, rel=0.003)
    assert any(one == pytest.approx(192, rel=0.01) for one in heard.grid.rivals), "the double tempo, to a hundredth"
    assert heard.chart.form_bars == 2
    assert abs(heard.tuning_cents) < 10
    assert [(one.first_bar, one.bars) for one in heard.sections] == [(0, heard.grid.bar_count)]
    flat = replace(BY_NAME["flat tape"], passes=4)
    assert abs(hear_recording(of_samples(play(flat).audio, RATE)).tuning_cents + 35) < 8


def test_two_parts_are_two_sections():
    changes = "Am7 | D7 | Am7 | D7 | Am7 | D7 | Am7 | D7 | Fmaj7 | Fmaj7 | G7 | G7 | Fmaj7 | Fmaj7 | G7 | E7"
    track = Track("two parts", 100, changes, "groove", 1)
    found = play(track)
    heard = hear_recording(of_samples(found.audio, RATE), wishes(tempo=100, meter="4/4", first_bar=found.downbeats[0]))
    assert [one.first_bar for one in heard.sections] == [0, 8]
    assert heard.sections[1].start_seconds == pytest.approx(found.downbeats[8], abs=0.05)


@pytest.mark.parametrize(("given", "told"), [
    ({"tempo": 192}, lambda heard: abs(heard.tempo / 192 - 1) < 0.02),
    ({"tempo": 48}, lambda heard: abs(heard.tempo / 48 - 1) < 0.02),
    ({"meter": "3/4"}, lambda heard: str(heard.meter) == "3/4" and heard.grid.pulses == 3),
    ({"meter": "7/8", "tempo": 96}, lambda heard: str(heard.meter) == "7/8" and abs(heard.tempo / 96 - 1) < 0.02),
    ({"meter": "6/8", "tempo": 144}, lambda heard: heard.grid.pulses == 2 and abs(heard.tempo / 144 - 1) < 0.02),
    ({"first_bar": 2.85}, lambda heard: abs(heard.first_bar_seconds - 2.85) < 0.05),
    ({"first_bar": 1.2875}, lambda heard: abs(heard.first_bar_seconds - 1.2875) < 0.05),  # between two beats
    ({"key": "G major"}, lambda heard: str(heard.keys[0]) == "G major" and heard.chart.key == Scale.parse("G major")),
    ({"form": 3}, lambda heard: heard.changes.cycle == 3 and heard.chart.form_bars == 3),
    ({"form": "A2 B2"}, lambda heard: [one.name for one in heard.sections[:3]] == ["A", "B", "A"]),
])
def test_what_a_person_says_is_honoured(given: dict[str, object], told: object):
    heard = hear_as("minor groove", **given)
    assert told(heard), (heard.tempo, heard.meter, heard.first_bar_seconds, heard.keys, heard.sections)


def test_a_corrected_chart_comes_back():
    """Its bars are taken as they stand but for those still marked, and its own first bar is found by its chords."""
    _, found, _ = played("minor groove")
    text = "# ? bar 1: to be heard\nmeter: 4/4\ntempo: 96\n| C | D13 |"
    heard = hear_as("minor groove", chart=text)
    assert [str(one.chord) for one in heard.chords[:2]] == ["Am7", "D13"]
    assert [one.given for one in heard.chords[:2]] == [False, True]
    assert heard.first_bar_seconds == pytest.approx(found.downbeats[0], abs=0.05)
    turned = hear_as("minor groove", chart="tempo: 96\n| D9 | Am7 |")
    assert turned.first_bar_seconds == pytest.approx(found.downbeats[1], abs=0.05), "it begins a bar later"
    four = hear_as("minor groove", chart="| Am7 D9 Am7 D9 |")
    assert [str(one.chord) for one in four.chords[:4]] == ["Am7", "D9", "Am7", "D9"]
    assert four.chords[1].start_seconds == pytest.approx(four.grid.beats[four.grid.first + 1])


def test_the_text_reads_back(tmp_path: Path):
    _, found, recording = played("waltz room")
    soundfile.write(tmp_path / "waltz.wav", recording.samples, 22_050)
    heard = hear(tmp_path / "waltz.wav")
    text = heard.text()
    assert Chart.parse(text) == heard.chart
    again = wishes(chart=text)
    assert again.first_bar_seconds == pytest.approx(heard.heard.first_bar_seconds, abs=0.001)
    assert again.unsure == set(heard.heard.unsure_bars)
    assert again.tempo == pytest.approx(heard.heard.tempo, abs=0.06)
    numbers = json.loads(heard.json())
    assert set(numbers) >= {"tempo", "tempo_rivals", "meter", "first_bar_seconds", "beats_seconds", "downbeats_seconds",
                            "key", "key_rivals", "sections", "chords"}
    assert set(numbers["chords"][0]) >= {"start_seconds", "end_seconds", "chord", "rivals", "confidence"}
    assert numbers["downbeats_seconds"][0] == pytest.approx(found.downbeats[0], abs=0.05)
    assert heard.picture().alt.startswith("Tempo 10")


def test_loudness_is_that_of_the_standard():
    """pyloudnorm's own meter over the whole file."""
    audio = play(replace(BY_NAME["fast rock"], passes=2)).audio
    recording = of_samples(audio, RATE)
    meter = pyloudnorm.Meter(RATE)
    assert recording.loudness_lufs == pytest.approx(meter.integrated_loudness(audio.astype(float)), abs=0.1)
    assert recording.peak_dbfs == pytest.approx(20 * np.log10(np.abs(audio).max()), abs=0.01)


def test_what_lies_ten_under_the_rest_is_left_out_of_loudness():
    """A stair of tones from loud to soft, a decibel a step: wherever the gate lies, it parts two of them. The outside
    word is pyloudnorm's; the levels of EBU Tech 3341, test 3 (-36, -23, -36 dBFS, heard as -23 LUFS), are ours."""
    time = np.arange(RATE) / RATE
    tone = np.sin(2 * np.pi * 1000 * time)
    left = of_samples(np.stack([0.8 * tone, 0 * tone], axis=1), RATE).samples
    assert np.abs(left[1000:-1000]).max() == pytest.approx(0.4, abs=0.01), "one channel is the mean of two"
    stair = np.concatenate([tone * 10 ** (-(6 + step) / 20) for step in range(24)])
    meter = pyloudnorm.Meter(RATE)
    assert of_samples(stair, RATE).loudness_lufs == pytest.approx(meter.integrated_loudness(stair), abs=0.02)
    levels = np.repeat(10 ** (np.array([-36, -23, -23, -23, -23, -36]) / 20), 10)
    both = np.concatenate([level * tone for level in levels])
    assert of_samples(np.stack([both, both], axis=1), RATE).loudness_lufs == pytest.approx(-23.0, abs=0.1)


def wave(samples: object, rate: int = RATE, subtype: str = "PCM_16", form: str = "WAV") -> bytes:
    written = io.BytesIO()
    soundfile.write(written, samples, rate, subtype, format=form)
    return written.getvalue()


TONE = 0.5 * np.sin(np.arange(3 * RATE) * 0.05) * (np.arange(3 * RATE) % 24_000 < 6_000)
HOLED = np.where(np.arange(len(TONE)) % 50 == 0, np.nan, TONE)


@pytest.mark.parametrize(("content", "words"), [
    (b"no sound at all\n" * 40, "is no recording that can be read"), (b"", "is no recording that can be read"),
    (b"RIFF\x24\x00\x00\x00WAVEfmt ", "is no recording that can be read"),
    (wave(np.zeros(2 * RATE)), "is silent"), (wave(TONE[:4000]), "holds 0.08 seconds"),
    (wave(TONE * np.nan, subtype="FLOAT"), "holds no numbers"), (wave(TONE)[:44], "holds 0.00 seconds"),
], ids=["text", "empty", "head alone", "silence", "short", "no numbers", "no sound"])
def test_what_cannot_be_heard_is_told_in_one_line(tmp_path: Path, content: bytes, words: str):
    path = tmp_path / "take.wav"
    path.write_bytes(content)
    done = CliRunner().invoke(main, ["hear", str(path), "--json", str(tmp_path / "x.json")])
    assert done.exit_code == 1
    assert words in done.output
    assert done.output.count("\n") == 1
    assert [one.name for one in tmp_path.iterdir()] == ["take.wav"], "nothing was written"


@pytest.mark.parametrize(("content", "note"), [
    (wave(TONE, subtype="PCM_U8"), ""), (wave(TONE[::6], 8_000), ""), (wave(np.repeat(TONE, 4), 192_000), ""),
    (wave(np.stack([TONE] * 6, axis=1)), ""), (wave(TONE, form="FLAC"), ""), (wave(TONE, 44_099), ""),
    (wave(HOLED, subtype="FLOAT"), "are no numbers"), (wave(TONE)[:200_000], "breaks off after 2.1 s"),
    (wave(np.sign(TONE)), "overdriven"), (wave(TONE * 1e30, subtype="FLOAT"), "overdriven"),
], ids=["8 bits", "8 kHz", "192 kHz", "six channels", "FLAC", "44,099 Hz", "holes", "broken off", "square", "huge"])
def test_odd_files_are_heard(tmp_path: Path, content: bytes, note: str):
    path = tmp_path / "take.wav"
    path.write_bytes(content)
    heard = hear_recording(read_recording(path))
    assert heard.tempo > 0
    assert not note or any(note in one for one in heard.notes), heard.notes


@pytest.mark.parametrize(("given", "words"), [
    ({"tempo": "fast"}, "fast"), ({"meter": "4"}, "not a meter"), ({"key": "H"}, "H"), ({"form": "A"}, "no form"),
    ({"form": "A8 ?"}, "no form"), ({"first_bar": -1}, "second"), ({"chart": "| Hm |"}, "Hm"),
    ({"form": "0"}, "no form"), ({"tempo": float("nan")}, "tempo"), ({"first_bar": 500}, "no whole bar"),
])
def test_a_wish_that_cannot_be_is_refused(given: dict[str, object], words: str):
    with pytest.raises(ValueError, match=words):
        hear_as("minor groove", **given)


def test_what_is_hard_to_hear_is_said():
    rng = np.random.default_rng(5)
    seconds = np.arange(20 * 22_050) / 22_050
    # Syllables of no even length, buzz and hiss by turns: speech, as far as beats and chords go.
    gate = np.repeat(rng.random(160) > 0.35, len(seconds) // 160 + 1)[:len(seconds)]
    pitch = np.cumsum(np.repeat(rng.uniform(90, 180, 160), len(seconds) // 160 + 1)[:len(seconds)] / 22_050)
    speech = gate * (np.mod(pitch, 1) - 0.5 + 0.2 * rng.normal(size=len(seconds)))
    assert any("speech" in one or "weak or free" in one for one in hear_recording(of_samples(speech, 22_050)).notes)
    drums = [(0.3 * step, 0.3 * step + 0.1, DRUM, key, 96) for step in range(64)
             for key in (HAT, *((KICK,) if step % 4 == 0 else (SNARE,) if step % 4 == 2 else ()))]
    assert any("drums alone" in one for one in hear_recording(of_samples(sound_of(drums, {}), RATE)).notes)
    free = play(replace(BY_NAME["strings alone"], passes=4, drift=0.16))
    notes = hear_recording(of_samples(free.audio, RATE)).notes
    assert any("weak or free" in one or "tempo is free" in one for one in notes), notes
    assert hear_as("minor groove").notes == ()


def test_the_command_loses_nothing(tmp_path: Path):
    _, _, recording = played("minor groove")
    path, chart = tmp_path / "groove.flac", tmp_path / "groove.txt"
    soundfile.write(path, recording.samples, 22_050)
    run = CliRunner().invoke
    done = run(main, ["hear", str(path), "--out", str(chart), "--picture", str(tmp_path / "p.svg")])
    assert done.exit_code == 0, done.output
    assert "tempo 96.0" in done.output
    chart.write_text("mine\n")
    again = run(main, ["hear", str(path), "--out", str(chart)])
    assert again.exit_code == 1
    assert chart.read_text() == "mine\n"
    assert run(main, ["hear", str(path), "--out", str(path), "--force"]).exit_code == 1, "the recording itself"
    assert run(main, ["hear", str(path), "--out", str(chart), "--force"]).exit_code == 0
    assert (tmp_path / "groove.txt.1").read_text() == "mine\n"


def test_the_weights_are_those_of_their_recipe(tmp_path: Path):
    """Trained anew they end where they were, but for what the renderer and the spectra differ by from one kind of
    processor to another: two steps of their last digit."""
    script = runpy.run_path(str(ROOT / "tests" / "tables" / "train_chords.py"))
    kept = json.loads(chord_model.WEIGHTS.read_text(encoding="utf-8"))
    assert kept["recipe"] == script["recipe"](), "train them anew: python tests/tables/train_chords.py"
    assert chord_model.WEIGHTS.stat().st_size < 8_000
    if EXPLORE:
        script["main"](tmp_path / "weights.json")
        apart = script["farthest"](tmp_path / "weights.json", chord_model.WEIGHTS)
        print(f"trained anew: {apart:.3f} apart at most")
        assert apart <= 0.021


def test_weights_that_lie_apart_are_told_apart(tmp_path: Path):
    farthest = runpy.run_path(str(ROOT / "tests" / "tables" / "train_chords.py"))["farthest"]
    kept = json.loads(chord_model.WEIGHTS.read_text(encoding="utf-8"))
    assert farthest(chord_model.WEIGHTS, chord_model.WEIGHTS) == 0
    for change in (lambda read: read["weights"]["m7b5"].__setitem__(-1, read["weights"]["m7b5"][-1] - 0.05),
                   lambda read: read["confidence"].update(slope=read["confidence"]["slope"] + 0.05)):
        other = json.loads(json.dumps(kept))
        change(other)
        (tmp_path / "w.json").write_text(json.dumps(other), encoding="utf-8")
        assert farthest(tmp_path / "w.json", chord_model.WEIGHTS) == pytest.approx(0.05)


def test_a_missing_file_is_named():
    with pytest.raises(ListenError, match=r"there is no file nowhere\.wav"):
        hear("nowhere.wav")
