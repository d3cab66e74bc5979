"""How long a recording takes to hear, beside measuring the loudness of the same audio with pyloudnorm."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pyloudnorm
import pytest
from support.recordings import RATE, TRACKS, play

from workbook.listen.hearing import hear_recording
from workbook.listen.recording import of_samples

MOST_TIMES = 12  # measured on a busy machine: four to six


def seconds(work: Callable[[], object]) -> float:
    """The least of three runs, in processor time."""
    found = []
    for _ in range(3):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return min(found)


@pytest.mark.benchmark(group="listening")
def test_a_recording_is_heard_in_a_few_times_what_its_loudness_takes() -> None:
    audio = np.asarray(play(TRACKS[0]).audio, dtype=float)
    meter = pyloudnorm.Meter(RATE)
    peer = seconds(lambda: meter.integrated_loudness(audio))
    ours = seconds(lambda: hear_recording(of_samples(audio, RATE)))
    print(f"{len(audio) / RATE / ours:.0f} times real time; {ours / peer:.1f} times pyloudnorm")
    assert ours < MOST_TIMES * peer
