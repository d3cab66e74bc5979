"""Which notes of a file of music are meant: a value, or its words as a teacher types them ("bars 5-8, part Lead")."""

from __future__ import annotations

from dataclasses import dataclass, fields

from theorylib.errors import MusicFileError, as_text, closest, one_of, shown
from theorylib.limits import is_whole

from .grids import WITHIN, GridName

FURTHEST_OCTAVES = 4
_TOP = "top"
_NUMBERS = ("staff", "octaves")
EXAMPLE = "bars 5-8, part Lead, staff 1, voice 2, octaves -1, top, grid 16ths"


@dataclass(frozen=True, slots=True)
class Passage:
    """What is read of a file: None leaves the choice to the reader.

    `bars` ("5-8") go by the file's own numbers, and so do `staff` and `voice`; `part` is a name or a number from 1.
    `octaves` move all notes, `top` keeps the highest of notes struck together. `grid` is that of a MIDI file ("8ths",
    "8th triplets", "16ths", "16th triplets"). Raises MusicFileError.
    """

    bars: str | int | None = None
    part: str | int | None = None
    staff: int | None = None
    voice: str | int | None = None
    octaves: int = 0
    top: bool = False
    grid: GridName | None = None

    def __post_init__(self) -> None:
        if not is_whole(self.octaves, -FURTHEST_OCTAVES, FURTHEST_OCTAVES):
            raise MusicFileError(f"“{shown(self.octaves)}” is no number of octaves", value=self.octaves,
                                 expected=f"a whole number from -{FURTHEST_OCTAVES} to {FURTHEST_OCTAVES}")
        if self.grid is not None:
            one_of(self.grid, WITHIN, "grid", MusicFileError)

    @classmethod
    def parse(cls, text: str) -> Passage:
        """The passage that some words mean, parted by commas; none of them mean the whole file.

        >>> Passage.parse("bars 5-8, part Lead, top")
        Passage(bars='5-8', part='Lead', staff=None, voice=None, octaves=0, top=True, grid=None)
        """
        written = as_text(text, "passage of a file", f"words such as “{EXAMPLE}”", MusicFileError)
        said: dict[str, object] = {}
        for piece in filter(None, map(str.strip, written.split(","))):
            word, _, value = piece.partition(" ")
            if word not in WORDS:
                raise MusicFileError(f"“{shown(word)}” says nothing of a passage", value=word,
                                     expected=f"words such as “{EXAMPLE}”", nearest=closest(word, WORDS))
            if word in said or bool(value) == (word == _TOP):
                raise MusicFileError(f"“{shown(piece)}” cannot be read", value=piece,
                                     expected=f"each word once, with what it says: “{EXAMPLE}”")
            said[word] = _value(word, value.strip())
        return cls(**said)  # type: ignore[arg-type]


WORDS = tuple(one.name for one in fields(Passage))
WHOLE = Passage()


def as_passage(value: Passage | str) -> Passage:
    return value if isinstance(value, Passage) else Passage.parse(value)


def _value(word: str, text: str) -> str | int | bool:
    if word == _TOP:
        return True
    # A part may be told by its number; what is no number stays a text, which the field itself refuses.
    is_number = text.removeprefix("-").isdecimal() and len(text) < 4
    return int(text) if is_number and (word in _NUMBERS or word == "part") else text
