"""The Tab key in a cell: after `feel="` it offers the feels, after `tuning="` the tunings, so for each choice."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from theorylib.changes.meters import FEELS
from theorylib.levels import LEVELS
from theorylib.names.spelling import NOTE_NAMES
from theorylib.necks.tuning_text import NAMED_TUNINGS
from theorylib.practice.drills import DIRECTIONS
from theorylib.practice.idioms import STYLES
from theorylib.practice.sequences import PATTERNS, STROKES

from ..lesson.facts import TECHNIQUES

# By the name of what is given: what may stand between its quotes.
CHOICES: dict[str, Sequence[str]] = {
    "direction": DIRECTIONS, "feel": tuple(FEELS), "level": tuple(LEVELS), "note_names": tuple(NOTE_NAMES),
    "pattern": tuple(PATTERNS), "rule": tuple(STROKES), "style": tuple(STYLES),
    "technique": TECHNIQUES, "tuning": tuple(NAMED_TUNINGS),
}
_GIVEN = re.compile(r"""\b(?P<name>\w+)\s*=\s*(?P<quote>["'])(?P<begun>[^"']*)$""")


def offered(line: str) -> list[str]:
    """What may follow the beginning of a line: of each choice what is not yet typed of its last word.

    >>> offered('lesson_chart("| Am7 |", feel="straight 1')
    ['16']
    """
    match = _GIVEN.search(line)
    if match is None or match["name"] not in CHOICES:
        return []
    begun = match["begun"]
    words = len(re.findall(r"[\s-]", begun))  # IPython completes what stands after the last blank or hyphen
    found = [name for name in CHOICES[match["name"]] if name.lower().startswith(begun.lower())]
    return [re.split(r"(?<=[\s-])", name, maxsplit=words)[-1] for name in found] if words else found


def complete_choices() -> None:
    """Teach the running notebook; outside one it does nothing."""
    from IPython.core.getipython import get_ipython

    shell = get_ipython()
    completer = getattr(shell, "Completer", None)
    if completer is None:
        return

    def matches(text: str) -> list[str]:
        return offered(completer.text_until_cursor)

    kept: list[Callable[[str], list[str]]] = completer.custom_matchers
    kept[:] = [one for one in kept if getattr(one, "__module__", "") != __name__] + [matches]
