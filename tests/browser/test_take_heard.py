"""A take heard on the page beside the report's hearing of the same samples: onsets, verdicts, sentences.

The takes are those of the listening tests: played by a SoundFont that nothing of ours holds, with slips that are known.
The page is given them at a microphone's rate, 48,000 samples a second, as the report is.
"""

from __future__ import annotations

import base64
import os
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from support.recordings import RATE, PlayedTake, play_take, sound_of

from theorylib import Line, continuous_arpeggio, finger
from workbook.browser.bundle import script
from workbook.handouts.practice import asked_rows
from workbook.listen.findings import findings, went_well
from workbook.listen.for_page import for_page
from workbook.listen.recording import of_samples
from workbook.listen.take import Take, hear_take
from workbook.listen.tracks import latency_of
from workbook.recorded.takes import expected_of

pytestmark = pytest.mark.browser
EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
CHARTS = {"eighths": ("tempo: 92\n| Am7 | D7 | Gmaj7 | Cmaj7 |", 8), "sixteenths": ("tempo: 80\n| Am7 | D7 |", 16),
          "swing": ("tempo: 132\nfeel: swing\n| Dm7 | G7 | Cmaj7 | A7 |", 8)}
PROGRAMS = (25, 26, 27) if EXPLORE else (27,)  # steel, jazz and clean guitar of General MIDI
SEEDS = range(1, 8) if EXPLORE else (1,)
BEGINS = 1.5   # seconds into the take, as play_take has it


@pytest.fixture(scope="module")
def bench(browser: Any) -> Any:
    page = browser.new_page()
    page.evaluate(script(Path(__file__).parents[1] / "support" / "take.js"))
    return page


@cache
def line(name: str) -> Line:
    chart, per_chord = CHARTS[name]
    return finger(continuous_arpeggio(chart, per_chord=per_chord))


@cache
def played(name: str, seed: int, program: int) -> PlayedTake:
    return play_take(expected_of(line(name)).notes, 10 * seed + program, program=program)


def on_page(bench: Any, of: Line, audio: Any, first: float, delay: float | None = None,
            hearing: dict[str, Any] | None = None) -> Any:
    mono = np.asarray(audio, np.float32)
    mono = mono.mean(axis=1) if mono.ndim > 1 else mono
    beat = 60 / float(of.chart.tempo)
    notes = [{"index": row[0], "onset": row[1] * beat, "length": row[2] * beat, "wanted": row[3], "midi": row[4],
              "struck": bool(row[5] & 1), "pitched": bool(row[5] & 2), "moving": bool(row[5] & 4), "bar": row[6],
              "beat": row[7]} for row in asked_rows(of)]
    return bench.evaluate("(all) => heardTake(all)", {
        "text": base64.b64encode(mono.astype(np.float32).tobytes()).decode(), "rate": RATE, "first": first,
        "delay": delay, "notes": notes, "hearing": hearing or for_page(), "tempo": float(of.chart.tempo)})


def both(bench: Any, name: str, seed: int, program: int, delay: float | None) -> tuple[Any, Take]:
    found = played(name, seed, program)
    first = None if delay is None else BEGINS
    report = hear_take(of_samples(found.audio, RATE, name), expected_of(line(name)), first_beat_seconds=first)
    return on_page(bench, line(name), found.audio, BEGINS if delay is not None else BEGINS - 0.12, delay), report


@pytest.mark.parametrize("delay", [0.0, None])
def test_the_page_hears_what_the_report_hears(bench: Any, delay: float | None) -> None:
    """With its place known, and (None) with a device that is 120 ms late, which the page has to find."""
    apart: list[float] = []
    count = other = 0
    took = []
    for name in CHARTS:
        for seed in SEEDS:
            for program in PROGRAMS:
                page, report = both(bench, name, seed, program, delay)
                took.append(page["took"])
                assert [one["index"] for one in page["notes"]] == [one.expected.index for one in report.notes]
                for one, same in zip(page["notes"], report.notes, strict=True):
                    count += 1
                    other += (one["verdict"], one.get("heard")) != (same.verdict, same.heard_midi)
                    if one["late"] is not None and same.early_late_ms is not None:
                        apart.append(one["late"] - same.early_late_ms)
                assert page["extras"] == len(report.extras)
                assert page["well"] == went_well(report)
                said = [one.kind for one in findings(report) if one.kind in for_page()["tell"]["said"]]
                assert [one["kind"] for one in page["findings"]][:len(said)] == said
    off = np.abs(apart)
    print(f"\n{count} notes, delay {delay}: onsets apart by {np.mean(off):.3f} ms (MAD {np.median(off):.3f}, "
          f"most {off.max():.2f}); {other} other verdicts; {np.median(took):.0f} ms a take")
    assert len(off) > 0.8 * count
    assert np.median(off) < 0.5
    assert np.mean(off > 2) < 0.01
    assert other <= 0.02 * count


@pytest.mark.parametrize(("late", "said"), [(0.0, None), (1.3, 1.3), (-0.65, -0.65)])
def test_who_comes_in_wrong_is_judged_from_there(bench: Any, late: float, said: float | None) -> None:
    """At 92 a minute: two beats late, one beat early; notes are not wrong for that."""
    found = played("eighths", 1, 27)
    page = on_page(bench, line("eighths"), found.audio, BEGINS - late)
    right = sum(one["verdict"] == "ok" for one in page["notes"])
    assert right == len(page["notes"]) - len(found.missing) - len(found.wrong)
    assert page["astray"] == (None if said is None else pytest.approx(said, abs=0.06))


def test_another_line_is_not_taken_for_it(bench: Any) -> None:
    noise = np.random.default_rng(3).normal(size=8 * RATE) * 0.001
    assert on_page(bench, line("eighths"), noise + 0.3 * np.sin(np.arange(8 * RATE) * 0.02), 0.5) is None


def test_other_sounds_in_the_microphone_are_noticed(bench: Any) -> None:
    """Beside a click on every sixteenth nobody knows which notes are missing: none is told."""
    of, found = line("eighths"), played("eighths", 1, 27)
    mono = found.audio.mean(axis=1)
    rng, loud = np.random.default_rng(4), np.abs(mono).max() / 2
    for step in range(64):
        at = int((BEGINS + 0.05 + step * 60 / 92 / 4) * RATE)
        burst = rng.normal(size=600) * np.exp(-np.arange(600) / 120) * loud
        mono[at:at + 600] += burst[:len(mono) - at]
    page = on_page(bench, of, mono, BEGINS, 0.0)
    report = hear_take(of_samples(mono, RATE), expected_of(of), first_beat_seconds=BEGINS)
    assert page["bleeds"]
    assert any("Missing and extra" in words for words in report.unjudged)
    assert "missing" not in [one["kind"] for one in page["findings"]]


def test_the_resampler_and_the_filters_are_those_of_scipy(bench: Any) -> None:
    from scipy.signal import resample_poly

    audio = np.random.default_rng(1).normal(size=5000).astype(np.float32)
    for rate, up, down in ((48_000, 147, 320), (44_100, 1, 2), (22_050, 1, 1)):
        sent = base64.b64encode(audio.tobytes()).decode()
        found = np.array(bench.evaluate("([text, rate]) => resampled(text, rate)", [sent, rate]))
        assert found == pytest.approx(resample_poly(audio, up, down), abs=1e-5)


def test_claps_are_read_as_the_report_reads_them(bench: Any) -> None:
    rng = np.random.default_rng(2)
    audio = (0.002 * rng.normal(size=10 * RATE)).astype(np.float32)
    for beat in range(12):
        at = int((beat * 0.75 + 0.083 + rng.normal(0, 0.008)) * RATE)
        audio[at:at + 900] = rng.normal(size=900) * np.exp(-np.arange(900) / 200)
    asked = {"text": base64.b64encode(audio.tobytes()).decode(), "rate": RATE, "first": 0, "beat": 0.75,
             "hearing": for_page()}
    late, _ = latency_of(of_samples(audio, RATE), 80)
    assert 1000 * bench.evaluate("(all) => delayOf(all)", asked) == pytest.approx(late, abs=1)
    few = {**asked, "text": base64.b64encode(audio[:3 * RATE].tobytes()).decode()}
    assert bench.evaluate("(all) => delayOf(all)", few) is None


def test_how_salient_a_pitch_must_be_is_the_reports_own_number(bench: Any) -> None:
    table = for_page()
    table["by"]["wrong_below"] = 1.01  # more than the best: no note is right
    page = on_page(bench, line("eighths"), played("eighths", 1, 27).audio, BEGINS, 0.0, table)
    assert page is None, "with no note right it is not this line"


@pytest.mark.parametrize("bleeds", [False, True])
def test_the_picture_tells_which_way_and_nothing_that_nobody_knows(bench: Any, bleeds: bool) -> None:
    rows = [("ok", -80, 0), ("ok", 80, 1), ("missing", None, 2), ("ok", 12, 3)]
    notes = [{"verdict": verdict, "late": late, "note": {"index": beat, "bar": 0, "beat": beat}}
             for verdict, late, beat in rows]
    take = {"bleeds": bleeds, "notes": notes}
    drawn = bench.evaluate("(take) => takeDrawn(take)", take)
    missing = "" if bleeds else "; 1 missing (bar 1 beat 3)"
    assert drawn["words"] == (f"Your take, {3 if bleeds else 4} notes: 1 in time; 1 early (bar 1 beat 1); "
                              f"1 late (bar 1 beat 2){missing}.")
    assert drawn["missing"] == (not bleeds)
    assert drawn["signs"] == [[0, "◀"], [1, "▶"], *([] if bleeds else [[2, "○"]])]
    assert drawn["early"] < 34 < drawn["late"], "early above the beat, late below"


@pytest.mark.parametrize("late", [30.0, -30.0])
def test_the_sentences_are_those_of_the_report(bench: Any, late: float) -> None:
    """Off-beats 30 ms late or early: the same words, way and bar."""
    of = line("eighths")
    at = [BEGINS + one.onset_seconds + late / 1000 * (one.index % 2) for one in expected_of(of).notes]
    notes = [(second, second + 0.25, 2, one.midi, 90) for second, one in zip(at, expected_of(of).notes, strict=True)]
    audio = sound_of(notes, {2: 27})
    report = hear_take(of_samples(audio, RATE), expected_of(of), first_beat_seconds=BEGINS)
    (said,) = [one.words for one in findings(report) if one.kind == "off-beats"]
    (told,) = [one["words"] for one in on_page(bench, of, audio, BEGINS, 0.0)["findings"] if one["kind"] == "off-beats"]
    assert said in told
