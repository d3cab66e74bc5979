"""Where the bars of a recording lie, as lines of comment in its chart's text.

    # bars at 0.350 2.959 5.568 8.170

are the seconds at which bars begin, in as many such lines as they need; the last number is where the last bar ends. The
text lies beside the recording: the bars of `groove.wav` in `groove.grid.txt`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

from theorylib.errors import VampError, shown

BARS = "# bars at"
APART_SECONDS = 1.5   # between a recording's length and what its text says: it is another recording
LONGEST_SECONDS, MOST_BARS = 1800.0, 6000
SHORTEST_BAR, LONGEST_BAR = 0.1, 60.0  # seconds
_A_LINE = 10
_LINE = re.compile(r"^[ \t]{0,9}#[ \t]{0,9}bars at[ \t]([^\n]{0,400})$", re.MULTILINE)
_NUMBER = re.compile(r"\d{1,4}(?:\.\d{1,6})?")
_HEARD = re.compile(r"^# heard in [^\n]{1,300}: (\d{1,3}):(\d{2}),", re.MULTILINE)


class GridError(VampError):
    """Bars of a recording that cannot be read."""


def grid_path(recording: Path) -> Path:
    """Where the text with a recording's bars lies."""
    return recording.with_suffix(".grid.txt")


def bars_text(edges: Sequence[float]) -> str:
    """The lines of comment for some edges of bars, in seconds.

    >>> bars_text([0.35, 2.959, 5.568])
    '# bars at 0.350 2.959 5.568\\n'
    """
    words = [f"{edge:.3f}" for edge in edges]
    rows = (words[at:at + _A_LINE] for at in range(0, len(words), _A_LINE))
    return "".join(f"{BARS} {' '.join(row)}\n" for row in rows)


def read_bars(text: str) -> tuple[float, ...]:
    """The edges of the bars that a text states; none where it states none. Raises GridError.

    >>> read_bars("# bars at 0.350 2.959\\n# bars at 5.568\\n| Am7 | D9 |")
    (0.35, 2.959, 5.568)
    """
    words = [word for line in _LINE.findall(text) for word in line.split()]
    wrong = next((word for word in words if not _NUMBER.fullmatch(word)), None)
    if wrong is not None:
        raise GridError(f"“{shown(wrong)}” stands among the bars", value=wrong,
                        expected=f"seconds, as in {BARS} 0.350 2.959")
    edges = tuple(float(word) for word in words)
    if not edges:
        return ()
    if len(edges) < 2 or len(edges) > MOST_BARS or edges[-1] > LONGEST_SECONDS:
        raise GridError(f"{len(edges)} edges of bars up to second {edges[-1]:g}", value=len(edges),
                        expected=f"2 to {MOST_BARS} edges within {LONGEST_SECONDS:g} seconds")
    for early, late in pairwise(edges):
        if not SHORTEST_BAR <= late - early <= LONGEST_BAR:
            raise GridError(f"a bar from second {early:g} to {late:g}", value=late,
                            expected=f"bars one after the other, of {SHORTEST_BAR:g} to {LONGEST_BAR:g} seconds")
    return edges


def told_seconds(text: str) -> int | None:
    """How long the recording was of which the text was heard, in whole seconds; None where it does not say.

    >>> told_seconds("# heard in ferry.wav: 3:07, -18.2 LUFS, tuned +4 cents from A = 440 Hz")
    187
    """
    found = _HEARD.search(text)
    return 60 * int(found[1]) + int(found[2]) if found else None


def tells_of_another(text: str, seconds: float) -> bool:
    """Whether a text was heard of a recording of another length; not where it does not say."""
    told = told_seconds(text)
    return told is not None and abs(told + 0.5 - seconds) > APART_SECONDS  # whole seconds, cut off
