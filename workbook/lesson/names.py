"""Finding the notes, chords and places that a text names, and naming them anew: in another key or another language.

A chord symbol and a scale begin with a note name, so only note names and pitches are replaced ("Gm7/F" has two). A
word counts as a name when it reads as a note, a chord or a pitch; a lone capital A is the article unless the word
after it, or what stands around it, says otherwise. Names of strings ("the low E string") and of sections stay.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from theorylib.errors import VampError
from theorylib.names.chords import Chord
from theorylib.names.scales import KINDS
from theorylib.names.spelling import NoteName, Pitch, plain

# A word that begins as a note does; not after a letter, a digit or an apostrophe.
_WORD = re.compile(r"(?<![\w♯♭#'’])(?P<root>[A-G](?:-flat\b|-sharp\b|[♯#]{1,3}|[♭b]{1,3})?)"
                   r"(?P<rest>[^\s,;:!?…“”\"|*_\]\[}{=–—\\]*)")
_BASS = re.compile(r"/([A-G](?:[♯#]{1,2}|[♭b]{1,2})?)$")
_PITCH = re.compile(r"-?[0-4]")  # 5, 6, 7 and 9 after a name make a chord
_AFTER = re.compile(r"\s+[*_“\"(]*([\w♯♭#-]+)")
# After a lone A: a verb, preposition or conjunction tells the note from the article, which a noun or adjective follows.
_NOTE_FOLLOWED_BY = frozenset((
    "and", "or", "to", "in", "on", "at", "over", "under", "against", "from", "for", "with", "by", "is", "are",
    "was", "were", "lies", "lie", "falls", "fall", "rises", "rise", "stays", "stay", "moves", "move", "goes",
    "go", "leads", "lead", "becomes", "resolves", "sounds", "sits", "bends", "belongs", "gives", "steps",
    "drops", "climbs", "comes", "begins", "ends", "holds", "then", "as", "than", "but",
))
_SCALE_WORDS = frozenset(word for kind in KINDS for word in kind.split()) | {"natural", "maj", "min", "triad"}
_STRINGS = frozenset({"string", "strings"})
_OPEN = frozenset({"low", "high", "open"})
_LABELS = frozenset({"section", "part", "letter", "group", "exercise", "paper", "din"})
_PAPERS = frozenset({"paper", "page", "pages", "sheet", "handout", "size"})
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
             "twelfth")
_PLACES = re.compile(r"\b(?P<word>(?:fret|position)(?P<many>s)?)(?P<numbers>\s++\d{1,4}(?!\w)"
                     r"(?:\s*+(?:–|-|to)\s*+\d{1,4}(?!\w)|(?(many)\s*+(?:,|and|or)\s*+\d{1,4}(?!\w)|(?!)))*)",
                     re.IGNORECASE)
_ORDINAL = re.compile(rf"\b(?:(?P<digits>\d{{1,4}})(?:st|nd|rd|th)|(?P<word>{'|'.join(_ORDINALS)}))"
                      r"(?P<what>\s+(?:fret|position))\b", re.IGNORECASE)
_STRING_FRET = re.compile(r"\bstring\s++(\d{1,4})\s*+(?:,\s*+)?(?:at\s++)?fret\s++(\d{1,4})(?!\d)", re.IGNORECASE)
_CODE = re.compile(r"(```.*?```|`[^`]*`)", re.DOTALL)
# Where a link or a picture leads, which a move of its words must not change; code is seen first and stays whole.
_CODE_OR_ADDRESS = re.compile(
    r"```.*?```|`[^`]*`|(?P<address>\]\([^()\s]*+|\b(?:src|href)=(?:\"[^\"<]*+\"|'[^'<]*+'))", re.DOTALL)
Rename = Callable[[NoteName | Pitch], str]


@dataclass(frozen=True, slots=True)
class Named:
    """A note name, or a pitch where an octave follows, in a text: where it stands, what it is, and whether it is the
    root or the bass of a chord symbol of more than a name."""

    start: int
    end: int
    name: NoteName | Pitch
    of_chord: bool = False


def names_in(text: str) -> Iterator[Named]:
    """Every note name in a text, in order."""
    for match in _WORD.finditer(text):
        root, rest = match["root"], match["rest"].rstrip(".)’'")
        if rest.startswith("("):  # "B(1)"
            rest = ""
        if not _reads(text, match, root, rest):
            continue
        start = match.start()
        name = NoteName(plain(root).replace("-flat", "b").replace("-sharp", "#"))
        if _PITCH.fullmatch(rest):
            yield Named(start, start + len(root) + len(rest), Pitch(name, int(rest)))
            continue
        yield Named(start, start + len(root), name, bool(rest))
        bass = _BASS.search(rest)
        if bass:
            at = start + len(root) + bass.start(1)
            yield Named(at, at + len(bass[1]), NoteName(plain(bass[1])), True)


def renamed(text: str, rename: Rename, of_chords: Rename | None = None) -> str:
    """The text with every note name and pitch replaced by what `rename` (`of_chords` in a chord symbol) gives for
    it."""
    parts, last = [], 0
    for found in names_in(text):
        new = (of_chords or rename) if found.of_chord else rename
        parts += [text[last:found.start], new(found.name)]
        last = found.end
    return "".join([*parts, text[last:]])


def renamed_prose(text: str, rename: Rename, typed: Rename | None, of_chords: Rename | None = None) -> str:
    """Markdown with its names replaced: by `typed` inside code, which is text that people type (None: code stays).

    `of_chords` names the roots and basses of chord symbols, outside code (None: as `rename` does).
    """
    parts = _CODE.split(text)  # every other part is code
    for number in range(0, len(parts), 2):
        parts[number] = renamed(parts[number], rename, of_chords)
    if typed is not None:
        for number in range(1, len(parts), 2):
            parts[number] = renamed(parts[number], typed)
    return "".join(parts)


def in_words(text: str, change: Callable[[str], str]) -> str:
    """Markdown with its words changed, and every address in it ("![a grip](Am7.jpg)") left as it is."""
    parts, last = [], 0
    for match in _CODE_OR_ADDRESS.finditer(text):
        if match["address"]:
            parts += [change(text[last:match.start()]), match["address"]]
            last = match.end()
    return "".join([*parts, change(text[last:])])


def frets_in(text: str) -> list[int]:
    """The frets and positions that a text names."""
    found: list[int] = []

    def note(fret: int) -> int:
        found.append(fret)
        return fret

    _with_frets(text, note)
    return found


def with_frets_moved(text: str, by: int) -> str:
    """The text with each fret and position `by` frets higher ("fret 5", "frets 5 to 8", "5th position")."""
    return _with_frets(text, lambda fret: fret + by)


def string_frets_in(text: str) -> list[tuple[int, int]]:
    """(string, fret) of each place that a text names as "string 2 fret 8"."""
    return [(int(string), int(fret)) for string, fret in _STRING_FRET.findall(text)]


def _reads(text: str, match: re.Match[str], root: str, rest: str) -> bool:
    after = _AFTER.match(text, match.start() + len(root) + len(rest))
    last = _word_before(text, match.start()).lower()
    following = after[1] if after else ""
    if last in _LABELS or (rest[:1].isdigit() and following.lower() in _PAPERS):
        return False
    if following.lower() in _STRINGS or (last in _OPEN and not rest and root == "E"):
        return False
    if rest:
        if _PITCH.fullmatch(rest):
            return True
        try:
            return Chord.parse(plain(root + rest)).root is not None and not _is_word(root + rest, following)
        except VampError:
            return False
    if root != "A":
        return not (root.isascii() and root.endswith("bb"))  # "Ebb" is a tide
    return _is_note_a(text, match, following)


def _is_note_a(text: str, match: re.Match[str], following: str) -> bool:
    """Whether a lone A is the note: an article begins a sentence and is followed by a noun or an adjective."""
    if not following or following[:1].isdigit() or following.lower() in _SCALE_WORDS or _WORD.fullmatch(following):
        return True
    if text[match.end():match.end() + 1] not in (" ", "\n"):
        return True
    return not _begins(text, match.start()) or following in _NOTE_FOLLOWED_BY


def _word_before(text: str, end: int) -> str:
    """The last word that ends before a place. It looks back from there: to search from the front takes the square."""
    while end and not _in_word(text[end - 1]):
        end -= 1
    start = end
    while start and (_in_word(text[start - 1]) or text[start - 1] == "-"):
        start -= 1
    return text[start:end]


def _in_word(sign: str) -> bool:
    return sign.isalnum() or sign == "_"


def _begins(text: str, start: int) -> bool:
    """Whether a sentence, a line or a quotation begins at a place."""
    gap = start
    while gap and text[gap - 1].isspace():
        gap -= 1
    before = text[gap - 1:gap]
    if gap == start:
        return not before or before in "“\"(*_"
    return "\n" in text[gap:start] or (before != "" and before in ".!?:-*#>]")


def _is_word(word: str, following: str) -> bool:
    """English words that read as chords."""
    return word in ("Do", "Go", "Co", "AM", "BM", "CM", "DM") or (word == "Am" and following == "I")


def _with_frets(text: str, change: Callable[[int], int]) -> str:
    def numbers(match: re.Match[str]) -> str:
        return match["word"] + re.sub(r"\d+", lambda number: str(change(int(number[0]))), match["numbers"])

    def ordinal(match: re.Match[str]) -> str:
        old = int(match["digits"]) if match["digits"] else _ORDINALS.index(match["word"].lower()) + 1
        new = change(old)
        if match["word"] and 1 <= new <= len(_ORDINALS):
            said = _ORDINALS[new - 1]
            return (said.capitalize() if match["word"][0].isupper() else said) + match["what"]
        tail = {1: "st", 2: "nd", 3: "rd"}.get(new % 10 if new % 100 not in (11, 12, 13) else 0, "th")
        return f"{new}{tail}{match['what']}"

    return _ORDINAL.sub(ordinal, _PLACES.sub(numbers, text))
