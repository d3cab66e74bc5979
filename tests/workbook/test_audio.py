"""Rendered audio, by numbers: clicks on the grid, loudness, chords by chroma, swing, bends and vibrato in cents.

Outside: equal temperament (ISO 16) for chroma, pyloudnorm (MIT, ITU-R BS.1770), scipy for the true peak, soundfile for
reading files back. Each renderer is measured: the SoundFont one where it installs, and the numpy voices everywhere.
"""

from __future__ import annotations

import io
import math
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest
from support.music21_chords import pitch_classes
from support.techniques import mark, note

from theorylib import Chart, Line, Tuning
from workbook.play import levels, sound
from workbook.play.backing import BASS, CLICK, COMP, DRUMS, PAD, backing
from workbook.play.backing_midi import backing_midi
from workbook.play.band import Band
from workbook.play.drum_map import DrumMapError, drum_map, read_drum_map
from workbook.play.ladder import Ladder
from workbook.play.levels import loudness
from workbook.play.performance import BEND_SECONDS, VIBRATO_HZ
from workbook.play.plucked import RATE, string
from workbook.play.sound import FORMATS, SoundError, encoded, mixed, renderer_name, soundfont_path, stems
from workbook.play.style_text import style_named

LOOP = "tempo: {tempo}\nfeel: {feel}\n| Dm7 | G7 | Cmaj7 | A7b9 |"
RENDERERS = ("SoundFont", "numpy")


@pytest.fixture(params=RENDERERS)
def renderer(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    if request.param == "numpy":
        monkeypatch.setattr(sound, "renderer_name", lambda soundfont=None: "numpy")
    elif renderer_name() != "SoundFont":
        pytest.skip("no SoundFont renderer on this machine")
    return str(request.param)


def chart(feel: str = "straight 8", tempo: int = 120) -> Chart:
    return Chart.parse(LOOP.format(feel=feel, tempo=tempo))


# -- click, level, files ---------------------------------------------------------------------------------------------
@pytest.mark.parametrize("tempo", [60, 97, 143])
def test_clicks_stand_on_the_grid_to_the_sample(tempo: int) -> None:
    track = backing(chart(tempo=tempo), passes=2, click=True, band=Band(ending=False))
    audio = mixed(track, parts=[CLICK], level=False)[:, 0]
    loud = np.flatnonzero(np.abs(audio) > 0.1)
    starts = loud[np.diff(loud, prepend=-RATE) > RATE // 10]
    expected = np.arange(4 + 2 * 16) * 60 / tempo  # a bar of count-in, then two passes of four bars
    assert len(starts) == len(expected)
    assert np.abs(starts / RATE - expected).max() < 1e-3
    crests = [np.abs(audio[start:start + 200]).max() for start in starts]
    assert min(crests[::4]) > 1.3 * max(crests[index] for index in range(len(crests)) if index % 4)


def test_a_rising_tempo_keeps_its_clicks() -> None:
    track = backing(chart(tempo=100), passes=3, click=True, ladder=Ladder(20), band=Band(ending=False))
    audio = mixed(track, parts=[CLICK], level=False)[:, 0]
    loud = np.flatnonzero(np.abs(audio) > 0.1)
    starts = loud[np.diff(loud, prepend=-RATE) > RATE // 10] / RATE
    steps = [60 / 100] * 20 + [60 / 120] * 16 + [60 / 140] * 15
    assert np.diff(starts) == pytest.approx(steps, abs=1e-3)


@pytest.mark.parametrize("feel", ["straight 8", "funk", "ballad"])
def test_loudness_and_peak(renderer: str, feel: str) -> None:
    import pyloudnorm
    from scipy.signal import resample_poly

    audio = mixed(backing(chart(feel), passes=2))
    assert audio.shape[1] == 2
    assert pyloudnorm.Meter(RATE).integrated_loudness(audio) == pytest.approx(-18, abs=0.5)
    assert 20 * math.log10(np.abs(resample_poly(audio, 16, 1, axis=0)).max()) < -1


@pytest.mark.parametrize("feel", ["ballad", "funk"])
def test_a_line_is_heard_over_its_backing(renderer: str, feel: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """By 3 LU (ITU-R BS.1770 by pyloudnorm), and nothing is over full scale before the limiter."""
    import pyloudnorm

    source = chart(feel)
    notes = tuple(note("A3", Fraction(index), Fraction(1), 3, 2) for index in range(16))
    line, track = Line(notes, source, length_beats=Fraction(16)), backing(source, passes=1, band=Band(ending=False))
    meter = pyloudnorm.Meter(RATE)
    assert np.abs(mixed(track, [line], level=False)).max() <= 1
    monkeypatch.setattr(sound, "under_full_scale", lambda audio: audio)
    band = mixed(track, parts=[DRUMS, BASS, COMP], level=False)
    both = mixed(track, [line], parts=[DRUMS, BASS, COMP], level=False)
    over = meter.integrated_loudness(both - band) - meter.integrated_loudness(band)
    assert over == pytest.approx(3, abs=0.4)


def test_what_would_pass_full_scale_is_turned_down_whole() -> None:
    loud = np.array([[0.5, -3.0], [1.5, 0.0]], np.float32)
    assert np.abs(levels.under_full_scale(loud)).max() == 1
    assert levels.under_full_scale(loud)[0, 0] == pytest.approx(0.5 / 3)
    quiet = loud / 4
    assert levels.under_full_scale(quiet) is quiet


@pytest.mark.parametrize("form", FORMATS)
def test_every_format_reads_back(form: str) -> None:
    import soundfile

    audio = mixed(backing(chart(), passes=1, band=Band(ending=False)))
    back, rate = soundfile.read(io.BytesIO(encoded(audio, form)), always_2d=True)
    assert rate == RATE
    assert abs(len(back) - len(audio)) < 0.2 * RATE
    level = float(np.sqrt((back ** 2).mean()) / np.sqrt((audio ** 2).mean()))
    assert level == pytest.approx(1, abs=0.05)
    if form in ("wav", "flac"):
        assert np.abs(back - audio).max() < 1e-4


def test_the_same_bytes_twice(renderer: str) -> None:
    track = backing(chart(), passes=1)
    assert encoded(mixed(track), "flac") == encoded(mixed(track), "flac")


def test_what_is_wrong_is_said() -> None:
    with pytest.raises(SoundError, match="wav"):
        encoded(np.zeros((10, 2), np.float32), "wave")
    with pytest.raises(SoundError, match="no SoundFont"):
        soundfont_path("nowhere.sf2")


# -- harmony ---------------------------------------------------------------------------------------------------------
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def chroma(audio: Any, low: int, octaves: int) -> Any:
    """How loud each pitch class is in some octaves from a MIDI number: Fourier's sum at each pitch of equal temperament
    (ISO 16), the octaves added up."""
    hertz = 440 * 2 ** ((low + np.arange(12 * octaves) - 69) / 12)
    waves = np.exp(-2j * np.pi * np.outer(hertz, np.arange(len(audio)) / RATE))
    return np.roll(np.abs(waves @ (audio * np.hanning(len(audio)))).reshape(octaves, 12).sum(axis=0), low % 12)


@pytest.mark.parametrize(("part", "low", "octaves", "loudest"), [(BASS, 24, 2, 1), (COMP, 52, 2, 3), (PAD, 52, 2, 3)])
def test_what_sounds_on_every_beat_belongs_to_the_chord(renderer: str, part: str, low: int, octaves: int,
                                                        loudest: int) -> None:
    """Chroma of each stem in its own register, beat by beat, against the chart's tones (music21's intervals).

    In its own register, since the fifth harmonic of a bass note is a major third above, whatever the chord; the third
    harmonic of a low voice lies in the comping's register, and the numpy strings are rich in it: their loudest alone.
    """
    loudest = 1 if renderer == "numpy" else loudest
    source = chart("ballad", 90)
    chord_tones = replace(style_named("ballad"), bass={"main": ("R- -- 5- --",)},  # no approaches
                          comp={"main": ("X- -- x- --",)})
    track = backing(source, passes=1, count_in_bars=0, click=False,
                    band=Band(style=chord_tones, density="main", ending=False, parts=(BASS, COMP, PAD)))
    audio = mixed(track, parts=[part], level=False).mean(axis=1)
    beat = round(RATE * 60 / 90)
    outside = []
    for number in range(16):
        inside = pitch_classes(source.events[number // 4].chord)
        here = chroma(audio[round((number + 0.25) * beat):round((number + 0.9) * beat)], low, octaves)
        outside += [(number, int(one)) for one in np.argsort(here)[::-1][:loudest] if int(one) not in inside]
    assert outside == []


# -- time ------------------------------------------------------------------------------------------------------------
def onsets(audio: Any, near: list[float], reach: float = 0.05) -> list[float]:
    """The moment near each given time at which the level first passes a third of the note's height, in seconds."""
    found = []
    for time in near:
        low = max(0, round((time - reach) * RATE))
        level = np.abs(audio[low:round((time + reach) * RATE)])
        found.append((low + int(np.argmax(level > level.max() / 3))) / RATE)
    return found


@pytest.mark.parametrize(("feel", "tempo", "ratio"), [("shuffle", 110, 2.0), ("swing", 120, 2.0), ("swing", 300, 1.25),
                                                      ("rock", 120, 1.0)])
def test_the_swing_ratio_is_heard(renderer: str, feel: str, tempo: int, ratio: float) -> None:
    """The line's own eighths, plucked: the ratio of long to short, from where each note begins."""
    source = Chart.parse(f"tempo: {tempo}\nfeel: {feel}\n| Am7 | Am7 |")
    notes = tuple(note("A3", Fraction(index, 2), Fraction(1, 8), 3, 2) for index in range(16))
    track = backing(source, passes=1, click=False, count_in_bars=1, band=Band(parts=(), ending=False))
    audio = mixed(track, [Line(notes, source, length_beats=Fraction(8))], level=False).mean(axis=1)
    beat, start = 60 / tempo, 4 * 60 / tempo
    long = ratio / (ratio + 1)
    near = [start + (index + part) * beat for index in range(8) for part in (0, long)]
    found = onsets(audio, near, 0.08 * beat)
    ratios = [(found[at + 1] - found[at]) / (found[at + 2] - found[at + 1]) for at in range(0, 14, 2)]
    # The SoundFont renderer begins notes on blocks of 64 samples: at 300 a minute that alone is 0.034 of this ratio.
    allowed = 0.04 if (renderer, tempo) == ("SoundFont", 300) else 0.02
    assert np.mean(ratios) == pytest.approx(ratio, abs=allowed)


# -- pitch -----------------------------------------------------------------------------------------------------------
def cents_over_time(audio: Any, hertz: float, window_seconds: float = 0.02) -> tuple[Any, Any]:
    """(seconds, cents from `hertz`): a heterodyne tracker, right for one known note."""
    time = np.arange(len(audio)) / RATE
    turned = audio * np.exp(-2j * np.pi * hertz * time)
    width = round(window_seconds * RATE)
    window = np.hanning(width) / np.hanning(width).sum()
    slow = np.convolve(np.convolve(turned, window, "same"), window, "same")[::48]
    speed = np.gradient(np.unwrap(np.angle(slow))) * (RATE / 48) / (2 * np.pi)
    return time[::48], 1200 * np.log2(np.maximum(1e-6, 1 + speed / hertz))


def alone(marks: tuple[object, ...], tempo: int = 60) -> Any:
    """One held A4 with marks, nothing else, from beat 0; 440 Hz by ISO 16."""
    source = Chart.parse(f"tempo: {tempo}\n| Am7 |")
    line = Line((note("A4", 0, 4, 1, 5, *marks),), source, length_beats=Fraction(4))
    track = backing(source, passes=1, click=False, count_in_bars=0, band=Band(parts=(), ending=False))
    return mixed(track, [line], level=False).mean(axis=1)


def test_a_plain_note_is_in_tune(renderer: str) -> None:
    times, cents = cents_over_time(alone(()), 440.0)
    held = cents[(times > 0.3) & (times < 1.5)]
    assert abs(float(np.median(held))) < 4


def test_a_bend_arrives_in_tune_and_in_time(renderer: str) -> None:
    times, cents = cents_over_time(alone((mark("bend", 2, 1),)), 440.0)
    assert float(np.median(cents[(times > 0.4) & (times < 0.9)])) == pytest.approx(0, abs=5)
    arrives = 1 + float(BEND_SECONDS)
    assert float(np.median(cents[(times > arrives + 0.1) & (times < arrives + 0.6)])) == pytest.approx(200, abs=6)
    half = times[(times > 0.9) & (cents > 100)][0]
    assert half == pytest.approx((1 + arrives) / 2, abs=0.03)


def test_a_vibrato_begins_on_its_beat_with_its_rate_and_width(renderer: str) -> None:
    times, cents = cents_over_time(alone((mark("vibrato", 60, 1),)), 440.0)
    before = cents[(times > 0.4) & (times < 0.97)]
    assert np.ptp(before) < 8, "still until its beat"
    waving = (times > 1.2) & (times < 2.4)
    wave = cents[waving] - np.mean(cents[waving])
    # Least squares against sines of every rate from 3 to 9 Hz: the best one's rate and extent.
    rates = np.arange(3, 9, 0.02)
    fits = [np.abs(np.sum(wave * np.exp(-2j * np.pi * rate * times[waving]))) * 2 / len(wave) for rate in rates]
    assert rates[int(np.argmax(fits))] == pytest.approx(VIBRATO_HZ, abs=0.1)
    assert 2 * max(fits) == pytest.approx(60, abs=6)
    first = times[(times > 0.9) & (cents > np.median(before) + 15)][0]
    assert first == pytest.approx(1 + math.acos(1 - 2 * 15 / 60) / (2 * math.pi * VIBRATO_HZ), abs=0.03)


@pytest.mark.parametrize("midi", [40, 52, 64, 76, 88])
def test_the_numpy_string_is_in_tune(midi: int) -> None:
    hertz = 440 * 2 ** ((midi - 69) / 12)
    times, cents = cents_over_time(string(midi, 2.0, "clean"), hertz, 0.1)
    assert abs(float(np.median(cents[(times > 0.4) & (times < 1.2)]))) < 1


def test_stems_add_up_to_the_mix(renderer: str) -> None:
    """Levelled and limited, sample by sample; and the mix is as loud as a mix alone."""
    track = backing(chart("funk"), passes=1, click=True)
    found = stems(track, (DRUMS, BASS, COMP, CLICK))
    whole = found.pop("")
    assert np.abs(whole - sum(found.values())).max() < 1e-4
    assert loudness(whole) == pytest.approx(-18, abs=0.3)
    power = 10 * np.log10((whole ** 2).mean() / (mixed(track) ** 2).mean())
    assert abs(power) < 0.2, "in decibels: both are levelled to a tenth"
    panned = [float((audio[:, 1] ** 2).sum() / (audio[:, 0] ** 2).sum()) for audio in (found[BASS], found[COMP])]
    assert panned[0] == pytest.approx(1, abs=0.05)
    assert panned[1] > 1.3, "comping stands to the right"


def test_a_loop_has_no_seam(renderer: str) -> None:
    """Its length is that of its bars, to the sample; what rings at its end sounds on at its start."""
    track = backing("tempo: 120\nfeel: ballad\n| Am7 | Dm7 |", passes=2, band=Band(loop=True))
    audio = mixed(track, level=False)
    assert len(audio) == round(16 * 60 / 120 * RATE)
    twice = np.concatenate([audio, audio])[:, 0]
    steps = np.abs(np.diff(twice))
    assert steps[len(audio) - 1] <= np.quantile(steps, 0.9999) + 1e-6
    once = mixed(replace(track, loops=False), level=False)
    tail = once[len(audio):]
    assert np.abs(tail[:RATE // 4]).max() > 1e-3, "something rings on"
    found = audio[:len(tail)] - once[:len(tail)]
    assert np.corrcoef(found[:, 0], tail[:, 0])[0, 1] > 0.99


def test_a_drum_map_beside_a_soundfont(tmp_path: Path) -> None:
    assert drum_map(None) == drum_map(tmp_path / "mine.sf2") == {}
    (tmp_path / "mine.drums.txt").write_text("# mine\nkick: 35\nopen hat: 54  # loud\n", encoding="utf-8")
    keys = drum_map(tmp_path / "mine.sf2")
    assert keys == {36: 35, 46: 54}
    track = backing("feel: rock\n| Am |", passes=1)
    data = backing_midi(track, parts=[DRUMS], drum_keys=keys)
    played = {message.note for message in mido.MidiFile(file=io.BytesIO(data)) if message.type == "note_on"}
    assert 35 in played
    assert 36 not in played


@pytest.mark.parametrize(("text", "words"), [("kik: 35", "line 1.*kick"), ("kick: 350", "to 127"), ("kick", "to 127")])
def test_a_drum_map_that_cannot_be_read_names_its_line(text: str, words: str) -> None:
    with pytest.raises(DrumMapError, match=words):
        read_drum_map(text)


@pytest.mark.parametrize("kind", ["hammer", "pull"])
def test_a_slurred_note_has_no_attack(renderer: str, kind: str) -> None:
    """At its start the level goes on falling, where a struck note's jumps; its pitch is its own after 20 ms."""
    source = Chart.parse("tempo: 60\n| Am7 |")
    first, second = ("A4", "C5") if kind == "hammer" else ("C5", "A4")
    frets = (5, 8) if kind == "hammer" else (8, 5)

    def rise(marks: tuple[object, ...]) -> tuple[float, Any]:
        notes = (note(first, 0, 1, 1, frets[0]), note(second, 1, 2, 1, frets[1], *marks))
        line = Line(notes, source, length_beats=Fraction(4))
        track = backing(source, passes=1, count_in_bars=0, band=Band(parts=(), ending=False))
        audio = mixed(track, [line], level=False).mean(axis=1)
        spans = ((0.9, 0.98), (1.02, 1.1))
        before, after = (np.sqrt((audio[round(a * RATE):round(b * RATE)] ** 2).mean()) for a, b in spans)
        return 20 * math.log10(after / before), audio

    slurred, audio = rise((mark(kind),))
    struck, _ = rise(())
    assert slurred < 1.5
    assert struck > slurred + 2
    hertz = 523.25 if kind == "hammer" else 440.0
    times, cents = cents_over_time(audio, hertz)
    assert abs(float(np.median(cents[(times > 1.1) & (times < 1.8)]))) < 6


def test_a_standard_guitar_is_where_iso_16_puts_it() -> None:
    assert [round(pitch.hz, 2) for pitch in Tuning.parse("standard").open_strings][-1] == 82.41
