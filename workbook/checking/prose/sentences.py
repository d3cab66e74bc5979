"""The sentences of a piece of Markdown: what a teacher says in plain words, each with the lines that it stands on.

Not a teacher's own words, and left out: code, fenced, indented by a fence or within a line; tables; block quotes; HTML
and its comments; mathematics; addresses and pictures; what stands in quotation marks; marked claims, which are judged
by themselves. Of a link the words are left out too: they name what lies elsewhere. Emphasis is read through.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass

from theorylib.claims import CLOSES, OPENS
from theorylib.names.spelling import plain

MOST_SIGNS = 600  # of a sentence: what runs on longer is cut there
_FENCE = re.compile(r"^[ ]{0,3}(?:```|~~~).*?(?:^[ ]{0,3}(?:```|~~~)[^\n]*$|\Z)", re.DOTALL | re.MULTILINE)
# Each takes its signs once and gives none back, so that a text is read in one go.
_LEFT_OUT = re.compile(
    rf"{re.escape(OPENS)}(?:(?!{re.escape(CLOSES)})[^\n]){{0,400}}+{re.escape(CLOSES)}"
    r"|``[^`]{1,400}+``|`[^`]{1,400}+`"
    r"|\$[^$\n]{1,200}+\$"
    r"|!?\[[^\[\]]{0,400}+\](?:\([^()\s]{0,400}+[^()]{0,100}+\)|\[[^\[\]]{0,100}+\])"
    r"|</?[a-zA-Z][^<>]{0,400}+>"
    r"|https?://\S++"
    r"|“[^”]{0,400}+”|„[^“”]{0,400}+[“”]|«[^»]{0,400}+»|(?<!\w)\"[^\"]{1,400}+\"(?!\w)", re.DOTALL)
_LINE = re.compile(r"(?P<quote>\s*+>)|(?P<table>\s*+\|)|(?P<rule>\s*+(?:[-*_=]\s*+){3,}$)"
                   r"|(?P<heading>\s{0,3}#{1,6}\s++)|(?P<item>\s*+(?:[-*+]|\d{1,3}[.)])\s++(?:\[[ xX]\]\s++)?)")
_CLOSING = re.compile(r"(?<!\s)\s++#++\s*+$")  # signs that close a heading
_EMPHASIS = re.compile(r"[*_~]{1,3}(?=\S)|(?<=\S)[*_~]{1,3}")
# A sentence ends at a stop before a space and whatever may begin one; not after these short forms.
_STOP = re.compile(r"(?<![.!?…])[.!?…]++[)\]’']*+(?=\s)")
_SHORT = frozenset({"e.g", "i.e", "etc", "vs", "cf", "approx", "no", "nr", "st", "mr", "mrs", "ms", "dr", "n.c", "ca"})


@dataclass(frozen=True, slots=True)
class Sentence:
    """Words in one line as they were typed, marks of emphasis left out; `heading` is the heading above, `opens` a new
    paragraph."""

    typed: str
    heading: str
    opens: bool
    is_heading: bool
    starts: tuple[tuple[int, int], ...]  # (sign of `text`, line from 1), in order

    @property
    def text(self) -> str:
        """The sentence with accidentals as # and b."""
        return plain(self.typed)

    def words_at(self, start: int, end: int) -> str:
        """What was typed for a stretch of `text`."""
        text = self.text
        return (self.typed if len(text) == len(self.typed) else text)[start:end].strip()

    def line_at(self, sign: int) -> int:
        """The line of the Markdown on which a sign of the sentence stands."""
        index = bisect_right(self.starts, sign, key=lambda pair: pair[0]) - 1
        return self.starts[max(index, 0)][1]


@dataclass(frozen=True, slots=True)
class _Block:
    """A paragraph, list item or heading: its lines with their numbers."""

    lines: tuple[tuple[int, str], ...]
    is_heading: bool


def sentences(markdown: str) -> Iterator[Sentence]:
    """Every sentence in order; headings and list items are sentences of their own."""
    heading = ""
    for block in _blocks(_without(markdown)):
        text, starts = _joined(block)
        if block.is_heading:
            heading = text.strip()
        for number, (first, last) in enumerate(_cuts(text)):
            said = text[first:last]
            if any(sign.isalnum() for sign in said):
                inside = [(max(at - first, 0), line) for at, line in starts if at < last]
                yield Sentence(said, "" if block.is_heading else heading, number == 0, block.is_heading, _late(inside))


def _without(text: str) -> str:
    """The text with what is left out as spaces, so that every line keeps its number."""
    return _LEFT_OUT.sub(lambda match: _blank(match[0]), _FENCE.sub(lambda match: _blank(match[0]), _commented(text)))


def _commented(text: str) -> str:
    """The text without HTML's comments."""
    parts, last = [], 0
    while (start := text.find("<!--", last)) >= 0 and (end := text.find("-->", start)) >= 0:
        parts += [text[last:start], _blank(text[start:end + 3])]
        last = end + 3
    return "".join([*parts, text[last:]])


def _blank(text: str) -> str:
    return "".join("\n" if sign == "\n" else " " for sign in text)


def _blocks(text: str) -> Iterator[_Block]:
    lines: list[tuple[int, str]] = []
    for number, line in enumerate(text.split("\n"), 1):
        match = _LINE.match(line)
        kind = match.lastgroup if match else ""
        if lines and (kind or not line.strip()):
            yield _Block(tuple(lines), False)
            lines = []
        if kind in ("quote", "table", "rule") or not line.strip():
            continue
        said = line[match.end():] if match else line
        if kind == "heading":
            yield _Block(((number, _CLOSING.sub("", said)),), True)
        else:
            lines.append((number, said))
    if lines:
        yield _Block(tuple(lines), False)


def _joined(block: _Block) -> tuple[str, list[tuple[int, int]]]:
    """The block's lines as one, without marks of emphasis, and where each begins."""
    parts, starts, length = [], [], 0
    for number, line in block.lines:
        said = _EMPHASIS.sub("", line).strip()
        starts.append((length, number))
        parts.append(said)
        length += len(said) + 1
    return " ".join(parts), starts


def _cuts(text: str) -> Iterator[tuple[int, int]]:
    """(first, last) of each sentence in a paragraph."""
    first = 0
    for stop in _STOP.finditer(text):
        before = text[max(first, stop.start() - 8):stop.start()].split()
        is_short = bool(before) and before[-1].lower().lstrip("(") in _SHORT
        following = text[stop.end():stop.end() + 3].lstrip()
        if is_short or following[:1].islower():
            continue
        yield first, stop.end()
        first = stop.end() + 1
    yield from ((at, min(at + MOST_SIGNS, len(text))) for at in range(first, len(text), MOST_SIGNS))


def _late(inside: list[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """The starts with only the last of those at the first sign: the line on which the sentence begins."""
    opening = [pair for pair in inside if pair[0] == 0]
    return (*opening[-1:], *(pair for pair in inside if pair[0] > 0))
