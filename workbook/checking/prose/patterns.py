"""What sentences name in fixed phrases: places on the neck, tunings, tempos, bars, meters, feels and sections.

A row of PHRASES is a kind of name (a key of compare.JUDGES), the phrases for it and how their groups are read. In a
phrase a space stands for any run of spaces and a word in braces for a row of _PARTS. Common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import Any

from theorylib.changes.meters import FEELS, Meter
from theorylib.errors import VampError
from theorylib.necks.tuning_text import NAMED_TUNINGS
from theorylib.necks.tunings import Tuning

from .mention import Mention
from .words import NUMBER, ORDINAL, number_of


def _longest_first(words: list[str]) -> str:
    return "|".join(sorted(map(re.escape, words), key=len, reverse=True)).replace(r"\ ", r"\s+")


_PARTS = {
    "number": f"({NUMBER})",
    "ordinal": f"({ORDINAL})",
    "fret": r"(\d{1,2})\b",
    "one position": r"(\d{1,2})(?!\d|\s*(?:-|–|to|and|or|,)\s*\d)",
    "bar": r"(\d{1,3})\b",
    "tempo": r"(\d{2,3})(?!\d|\s*%|\s+(?:percent|dB)\b)",
    "tempo at the end": r"(\d{2,3})(?=\s*(?:[.,;:)]|$|and\b|with\b|for\b|in\b))",
    "meter": r"(\d{1,2}/(?:2|4|8|16))(?![\d/])",
    "at": r"(?:at|on|in|to) (?:the )?",
    "notes": "[A-G](?:#|b)?(?:(?:, | and | or |, and )[A-G](?:#|b)?)*",
    "pitches": r"((?:[A-G](?:#|b)?\d\s+){3,8}[A-G](?:#|b)?\d)\b",
    "tuning": f"({_longest_first([name for name in NAMED_TUNINGS if name != 'bass'])})",
    "special tuning": f"({_longest_first([name for name in NAMED_TUNINGS if ' ' in name or name.isupper()])})",
    "feel": f"({_longest_first(list(FEELS))})",
    "music": "(?:lesson|backing track|track|backing|loop|song|tune|click|metronome|groove|band|drill|piece|chart|vamp"
             "|riff|exercise)",
    "runs": "(?:is|runs|goes|moves|plays|sits|ticks|stays|clicks|rolls)",
    "form": "(?:loop|vamp|form|chart|progression|cycle|chorus|blues|tune|sequence|song|changes|structure)",
    "eighths": "(?:eighths?|8ths|sixteenths?|16ths)",
    "section": "(verse|pre-chorus|chorus|bridge|intro|introduction|outro|coda|refrain|interlude|middle eight)",
    "frets": "(frets?|holds?|press(?:es)?|stretch(?:es)?|picks?|plucks?|strums?)",
}


def _first(match: re.Match[str]) -> str:
    return next(group for group in match.groups() if group)


def _number(match: re.Match[str]) -> int:
    return number_of(_first(match))


def _fraction(match: re.Match[str]) -> Fraction:
    return Fraction(_first(match))


def _meter(match: re.Match[str]) -> Meter | None:
    try:
        return Meter.parse(match[1])
    except VampError:
        return None


def _tuning(match: re.Match[str]) -> Tuning | None:
    try:
        return Tuning.parse(_first(match).strip())
    except VampError:
        return None


def _words(match: re.Match[str]) -> str:
    return " ".join(_first(match).lower().split())


def _letter(match: re.Match[str]) -> str | None:
    return _first(match) if _first(match).isupper() else None


def _string_names(match: re.Match[str]) -> tuple[str, tuple[str, ...]] | None:
    """("low", the letters) of “the low E string”, “the B and G strings”."""
    opens = not match.string[:match.start()].strip() or match.string[:match.start()].rstrip()[-1] in ".!?:"
    if opens and match[0].startswith("A "):  # “A string that …”
        return None
    names = tuple(re.findall(r"(?<![\w#])[A-G](?:#|b)?(?![\w#])", match["names"]))
    return ((match["where"] or "").lower(), names) if names else None


def _hand(match: re.Match[str]) -> tuple[str, str]:
    return match[1].lower(), match[2].lower()


# kind, phrases, how the groups are read. The kinds of BOUND speak of the lesson by themselves.
PHRASES: tuple[tuple[str, tuple[str, ...], Callable[[re.Match[str]], Any]], ...] = (
    ("position", ("position {one position}", r"{ordinal} position\b",
                  "first finger (?:belongs to|stays (?:at|on)|lives at) (?:the )?fret {fret}"), _number),
    ("fret", ("frets? {fret}", r"{ordinal} fret\b"), _number),
    ("capo", ("capo {fret}", "capo {at}(?:fret )?{fret}", r"capo {at}{ordinal} fret\b"), _number),
    ("string", ("strings? {fret}", r"{ordinal} string\b"), _number),
    ("strings", (r"all (?:of the |your )?{number} strings\b", r"(?:this|your|our) {number}-string\b"), _number),
    ("string name", (r"(?:(?P<where>low|high|lowest|highest|open) )?(?P<names>{notes})[ -]strings?\b",), _string_names),
    ("tuning", (r"{tuning} tuning\b", r"tun(?:e|ed|es|ing) (?:\w+ ){0,3}?(?:to|in|is) {tuning}\b",
                r"in {special tuning}\b(?! (?:major|minor))", "{pitches}"), _tuning),
    ("tempo", (r"(?<!\w)♩\s*=\s*(\d{2,3})\b", r"(\d{2,3})\s*bpm\b", "tempo of {tempo}",
               "at (?:a steady )?{tempo at the end}",
               r"(\d{2,3}) (?:beats|quarter notes|quarters|crotchets) (?:a|per) minute"), _fraction),
    ("the tempo", ("tempo (?:is|stays at|here is) {tempo}", r"tempo:\s*(\d{2,3})\b",
                   r"{music} {runs} (?:\w+ )?at {tempo}"), _fraction),
    ("bar", ("bars? {bar}", r"the {ordinal} bar\b"), _number),
    ("length", (r"{number}[ -]bar (?:\w+ )?{form}\b", r"{number} bars of \d{1,2}/\d"), _number),
    ("count", (r"(?:these|the|our|with|only|just) {number} (?:different )?chords\b",), _number),
    ("section", (r"(?:section|part) ([A-Z])\b", r"([A-Z])[ -](?:section|part)\b"), _letter),
    ("section word", (r"the {section}\b",), _words),
    ("meter", ("in {meter}(?! of)", "{meter}(?= (?:time|meter|metre|bars?|feel|groove|pulse))"), _meter),
    ("the meter", ("bars? of {meter}", r"(?:meter|time signature)(?: is| of|:) {meter}"), _meter),
    ("beats", (r"{number} beats (?:a|to the|per|in (?:a|each|every|the)) bar\b",), _number),
    ("beat", (r"beats? (\d{1,2})\b", r"beats \d{1,2} and (\d{1,2})\b"), _number),
    ("feel", (r"{feel} (?:feel|groove|beat|rhythm)\b", r"feel:? (?:is )?(?:an? )?{feel}\b",
              r"(?:the|this|a|as) (shuffle|swing)\b", r"·\s*{feel}(?=\s*(?:·|$))",
              r"(swing|swung|straight) (?:the )?{eighths}\b",
              r"{eighths} (?:are |stay |quite |all |perfectly )*(swung|straight)\b"), _words),
    ("hand", (r"(left|right) hand (?:\w+ )?{frets}\b",), _hand),
)
BOUND = {"the tempo": "tempo", "the meter": "meter"}


def _compiled(phrase: str) -> re.Pattern[str]:
    parts = re.sub(r"\{([a-z ]+)\}", lambda match: _PARTS[match[1]], phrase)
    spaced = re.sub(r"(?<!\\) ", r"\\s+", parts)
    return re.compile(rf"(?<![\w#])(?:{spaced})", re.IGNORECASE)


_COMPILED = tuple((kind, _compiled(phrase), read) for kind, phrases, read in PHRASES for phrase in phrases)


def phrases_in(text: str) -> Iterator[Mention]:
    """Every fixed phrase of a sentence that names something."""
    for kind, pattern, read in _COMPILED:
        for match in pattern.finditer(text):
            value = read(match)
            if value is not None:
                yield Mention(BOUND.get(kind, kind), match[0].strip(), match.start(), match.end(), value, kind in BOUND)
