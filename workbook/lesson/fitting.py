"""Whether a lesson's drill has room in its bars: as many notes over each chord as can be written and played."""

from __future__ import annotations

from theorylib.changes.charts import Chart
from theorylib.errors import VampError
from theorylib.necks.tunings import Tuning
from theorylib.playing.notation import written_bars
from theorylib.practice.drills import continuous_arpeggio

from .door import LessonError

LONG_FORM = 8  # bars: the second time through a longer one fills a page with what was played


def usual_passes(chart: Chart) -> int:
    """How often a drill goes through the changes where nobody says: a short form twice, before it has been all over.

    >>> [usual_passes(Chart.parse(f"|: Am7 | D7 :| x{times}")) for times in (2, 4, 6)]
    [2, 2, 1]
    """
    return 2 if chart.form_bars <= LONG_FORM else 1


def check_rhythm(chart: Chart, per_chord: int, tuning: Tuning) -> None:
    """Hold that `per_chord` notes over each chord can be written; else LessonError names how many can.

    Many chords in a bar leave each little time, and odd numbers of chords and notes odd parts of a beat.
    """
    refused = _refusal(chart, per_chord, tuning)
    if refused is None:
        return
    fits = next((fewer for fewer in range(per_chord - 1, 0, -1) if _refusal(chart, fewer, tuning) is None), None)
    if fits is None:
        raise refused
    raise LessonError(refused.message, value=per_chord, where=refused.where,
                      expected=f"fewer chords in the bar, or fewer notes over each: --per-chord {fits} "
                               f"(in a notebook per_chord={fits})") from refused


def _refusal(chart: Chart, per_chord: int, tuning: Tuning) -> VampError | None:
    """Why a drill of so many notes a chord cannot be written, wherever on the neck; None where it can."""
    try:
        written_bars(continuous_arpeggio(chart, per_chord, None, tuning=tuning))
    except VampError as error:
        return error
    return None
