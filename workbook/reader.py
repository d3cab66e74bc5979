"""For whom a lesson is shown: hand, language of note names and tempos, which its pictures and plans follow."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass

from theorylib.errors import VampError, one_of, shown
from theorylib.limits import TEMPO, is_whole
from theorylib.names.spelling import NOTE_NAMES, NoteLanguage, note_names


class ReaderError(VampError):
    """A choice for a reader that cannot be shown."""


@dataclass(frozen=True, slots=True)
class Reader:
    """`tempos` are quarter notes a minute, from where practice begins to where it ends; `steps` of a practice plan.

    `note_names` is a key of theorylib.names.spelling.NOTE_NAMES.
    """

    left_handed: bool = False
    note_names: NoteLanguage = "english"
    tempos: tuple[int, int] | None = None
    steps: int = 4

    def __post_init__(self) -> None:
        one_of(self.note_names, NOTE_NAMES, "language of note names", ReaderError)
        if self.tempos is not None and not _is_range(self.tempos):
            raise ReaderError(f"{shown(self.tempos)} is no range of tempos", value=self.tempos,
                              expected=f"two tempos from {TEMPO[0]} to {TEMPO[1]}, the slower first")
        if not is_whole(self.steps, 2, 20):
            raise ReaderError(f"a plan of {shown(self.steps)} steps", value=self.steps, expected="2 to 20 steps")


def _is_range(tempos: object) -> bool:
    """Two tempos, the slower first?"""
    pair = tempos if isinstance(tempos, tuple | list) else ()
    return len(pair) == 2 and all(is_whole(tempo, *TEMPO) for tempo in pair) and pair[0] <= pair[1]


EVERYONE = Reader()
_reads = {"reader": EVERYONE}  # of the process: cells of one notebook may run in contexts of their own
_kept = ExitStack()


def reader() -> Reader:
    """Who reads at present."""
    return _reads["reader"]


@contextmanager
def read_by(who: Reader) -> Iterator[None]:
    """Within it everything is shown for a reader."""
    before = _reads["reader"]
    _reads["reader"] = who
    try:
        with note_names(who.note_names):
            yield
    finally:
        _reads["reader"] = before


def for_reader(*, left_handed: bool = False, note_names: NoteLanguage = "english",
               tempos: tuple[int, int] | None = None, steps: int = 4) -> None:
    """To show a notebook for one student: left-handed, other note names, a range of tempos.

    It holds for everything that follows; calling it again begins anew.

    >>> for_reader(note_names="german")
    >>> Chord.parse("Bb7").pretty
    'B7'
    >>> for_reader()
    """
    _kept.close()
    _kept.enter_context(read_by(Reader(left_handed, note_names, tempos, steps)))
