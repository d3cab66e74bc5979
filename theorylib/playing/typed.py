"""Text as people type and paste it: signs brought to plain ones, and errors that show the place with a caret.

Conventions: lines and columns count from 1 in what is said and from 0 in the code. Cleaning keeps each sign in its
column, so that a caret points at what was typed; a tab becomes the spaces up to the next multiple of eight.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..errors import LineError, as_text

LONGEST_TEXT = 400_000  # signs: some thousand lines of TAB
_SHOWN = 60             # signs of a line that a message shows
_TAB_STOP = 8
_UNSEEN = ("Cc", "Cf", "Cs", "Mn")  # controls, formats, halves of signs, marks over signs
# Signs that word processors and mail make of plain ones; an em dash is long, see `dashes`.
_DASHES = "‐‑‒–−─━┄┈╌╴╶﹘﹣－ｰ"
_BARS = "│┃┆┊╎╏¦∣｜‖║├┤┼┝┥┠┨╟╢╞╡"
_SIGNS = {"×": "x", "✕": "x", "✗": "x", "∼": "~", "〜": "~", "～": "~", "˜": "~", "⁓": "~", "∿": "~", "〰": "~",
          "╱": "/", "∕": "/", "⁄": "/", "╲": "\\", "∖": "\\", "‹": "<", "⟨": "<", "«": "<", "›": ">", "⟩": ">",
          "»": ">", "♭": "b", "♯": "#", "’": "'", "‘": "'", "′": "'", "＞": ">", "：": ":"}
_PLAIN = str.maketrans({**dict.fromkeys(_DASHES, "-"), **dict.fromkeys(_BARS, "|"), **_SIGNS})
EM_DASH = "—"


class Shown(str):
    """A text that a notebook shows as it prints: all else is a str's."""

    __slots__ = ()

    def __repr__(self) -> str:
        return str(self)


@dataclass(frozen=True, slots=True)
class Typed:
    """A text's lines made plain, each sign in its column."""

    lines: tuple[str, ...]

    @classmethod
    def of(cls, text: str) -> Typed:
        """Read a text; raises LineError for what is none, or too long."""
        written = as_text(text, "phrase", "TAB, or a line of words such as “e A3 C4 E4”", LineError)
        if len(written) > LONGEST_TEXT:
            raise LineError(f"a phrase of {len(written):,} signs", value=len(written),
                            expected=f"at most {LONGEST_TEXT:,}")
        return cls(tuple(_plain(line) for line in written.splitlines()))

    def wrong(self, message: str, row: int, column: int, *, value: object = None, expected: str = "",
              nearest: Iterable[str] = ()) -> PhraseError:
        """The error that shows a place of this text."""
        return PhraseError(message, value=value, where=f"line {row + 1}, column {column + 1}", expected=expected,
                           nearest=nearest, picture=_picture(self.lines, row, column))


class PhraseError(LineError):
    """A typed phrase that cannot be read; `picture` is the line with a caret under the place."""

    def __init__(self, message: str, *, value: object = None, where: str = "", expected: str = "",
                 nearest: Iterable[str] = (), picture: str = "") -> None:
        self.picture = picture
        super().__init__(message, value=value, where=where, expected=expected, nearest=nearest)

    def _sentence(self) -> str:
        sentence = super()._sentence()
        return f"{sentence}\n{self.picture}" if self.picture else sentence

    def at(self, where: str) -> PhraseError:
        return PhraseError(self.message, value=self.value, where=where, expected=self.expected, nearest=self.nearest,
                           picture=self.picture)


def _plain(line: str) -> str:
    """A line of plain signs: spaces of every kind, dashes and bars of every kind, no invisible signs."""
    spaced = "".join(" " if unicodedata.category(sign) == "Zs" else sign for sign in line)
    shown = "".join(sign for sign in spaced if sign == "\t" or unicodedata.category(sign) not in _UNSEEN)
    return shown.translate(_PLAIN).expandtabs(_TAB_STOP).rstrip()


def dashes(typed: Typed, each: int) -> Typed:
    """The text with each em dash as so many plain ones: a mail program makes one of two, a person types one."""
    return Typed(tuple(line.replace(EM_DASH, "-" * each) for line in typed.lines))


def _picture(lines: Sequence[str], row: int, column: int) -> str:
    """The line and a caret under the column; of a long line the part around it."""
    if not 0 <= row < len(lines):
        return ""
    line = lines[row]
    start = max(0, column - _SHOWN // 2) if len(line) > _SHOWN else 0
    part = line[start:start + _SHOWN]
    head, tail = "…" if start else "", "…" if start + _SHOWN < len(line) else ""
    return f"    {head}{part}{tail}\n    {' ' * (len(head) + column - start)}^"
