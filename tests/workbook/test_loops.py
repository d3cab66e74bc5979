"""Samples that are held by a loop: no seam, no change of pitch, the fade that they have. By numbers (numpy, scipy)."""

from __future__ import annotations

import numpy as np
import pytest

from workbook.play.bank import BANK_RATE, HATS, LONGEST_SECONDS, Want, bank_of, sample_seconds
from workbook.play.loops import looped
from workbook.play.sound import renderer_name

HELD = (Want("Bass", 33, 95), Want("clean", 57, 95))


def fading(hertz: float, seconds: float, decibels_a_second: float) -> np.ndarray:
    """A note of three partials that fades evenly."""
    time = np.arange(int(seconds * BANK_RATE)) / BANK_RATE
    tone = sum(np.sin(2 * np.pi * hertz * part * time) / part for part in (1, 2, 3))
    return np.asarray(0.3 * tone * 10 ** (-decibels_a_second * time / 20), np.float32)


def held(sample: np.ndarray, start: int, turns: int) -> np.ndarray:
    return np.concatenate([sample, *[sample[start:]] * turns])


@pytest.mark.parametrize(("midi", "fade"), [(28, 3.0), (45, 6.0), (69, 12.0), (76, 0.0)])
def test_a_loop_goes_on_as_the_note_did(midi: int, fade: float) -> None:
    """Against the note itself, made longer by its formula: the same pitch, the fade told to half a decibel a second."""
    hertz = 440 * 2 ** ((midi - 69) / 12)
    sample, loop = looped(fading(hertz, 2.2, fade), midi)
    assert loop is not None
    assert loop.fade_db == pytest.approx(fade, abs=0.5)
    long = held(sample, loop.start, 3)
    steps = np.abs(np.diff(long))
    inside = steps[loop.start:len(sample) - 1].max()
    seams = [len(sample) - 1 + turn * (len(sample) - loop.start) for turn in range(3)]
    assert all(steps[seam] <= 1.05 * inside for seam in seams), "no jump"
    # The loop is a whole number of periods: its spectrum's peak lies on the note.
    turning = np.concatenate([sample[loop.start:]] * 8)
    spectrum = np.abs(np.fft.rfft(turning * np.hanning(len(turning)), 8 * len(turning)))
    found = np.argmax(spectrum) * BANK_RATE / (8 * len(turning))
    assert abs(1200 * np.log2(found / hertz)) < 5


def test_what_is_silent_at_its_end_is_not_looped() -> None:
    assert looped(fading(220, 2.2, 60.0), 57)[1] is None
    assert looped(fading(220, 0.3, 3.0), 57)[1] is None


def test_a_long_note_of_the_bank_can_be_held_and_a_drum_rings_whole() -> None:
    assert sample_seconds(HELD[0], 4.0) == LONGEST_SECONDS
    lengths = {want: sample_seconds(want, 4.0) for want in HELD}
    lengths[Want("clean", 60, 95)] = sample_seconds(Want("clean", 60, 95), 0.2)
    crash, hat = Want("Drums", 49, 95), Want("Drums", HATS[0], 95)
    lengths |= {one: sample_seconds(one, 0.1) for one in (crash, hat)}
    found = bank_of(lengths).places
    if renderer_name() == "SoundFont":
        assert [len(found[want]) for want in HELD] == [4, 4]
    assert len(found[Want("clean", 60, 95)]) == len(found[hat]) == 2
    assert found[crash][1] > 1 > found[hat][1]
