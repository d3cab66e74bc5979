"""What a sentence names that a lesson can belie: chords, scales, keys, places on the neck, bars, tempos and the rest.

A mention is `bound` where its own words say that it speaks of the lesson ("the key is …", "bar 3 is …"): then a word
for something else in the same sentence does not excuse it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from theorylib.changes.meters import FEELS, Meter
from theorylib.errors import VampError
from theorylib.names.chords import Chord
from theorylib.names.scales import KINDS, Scale
from theorylib.necks.tunings import NAMED_TUNINGS, Tuning

from .words import NUMBER, ORDINAL, number_of

Read = Callable[[re.Match[str]], object]


@dataclass(frozen=True, slots=True)
class Mention:
    """A thing named: its kind (a key of judge.JUDGES), the words, where they stand, what they mean."""

    kind: str
    words: str
    start: int
    end: int
    value: object
    bound: bool = False


# -- chords ----------------------------------------------------------------------------------------------------------
_SYMBOL = re.compile(r"(?<![\w#'’/.])[A-G](?:##|bb|#|b)?[\w#+°øΔ()/]*+(?:-?\d{1,2}[\w#+°øΔ()/]*+)?")
_BARE = re.compile(r"[A-G](?:##|bb|#|b)?")
_PITCH = re.compile(r"[A-G](?:##|bb|#|b)?-?[0-4]")  # 5, 6, 7 and 9 after a name make a chord
_ENGLISH = frozenset({"Do", "Go", "Co", "Bo", "Eo", "AM", "BM", "CM", "DM"})
_PAPER = re.compile(r"\s+(?:paper|pages?|sheets?|handouts?|size)\b")
_CHORD_WORDS = {"seventh": "7", "7th": "7", "ninth": "9", "9th": "9", "sixth": "6", "6th": "6", "chord": "",
                "triad": ""}
_BETWEEN = re.compile(r"\s*(?:,|-|–|—|→|and|or|to|/|\||,\s*and)\s*")
_IS_CHORD = re.compile(r"[\s]+(?:chord|major chord)s?\b")


def _chords(text: str) -> Iterator[Mention]:
    found = [(match, _read_chord(match[0])) for match in _SYMBOL.finditer(text)]
    certain = [bool(chord) and not _BARE.fullmatch(word) for _, (word, chord) in found]
    for index, (match, (word, chord)) in enumerate(found):
        if chord is None or chord.root is None or _is_pitch_or_word(text, match, word):
            continue
        start, end = match.start(), match.start() + len(word)
        if certain[index]:
            yield Mention("chord", word, start, end, chord)
        elif _IS_CHORD.match(text, end) or _in_chain(text, found, certain, index):
            yield Mention("root", word, start, end, chord)


def _read_chord(word: str) -> tuple[str, Chord | None]:
    """The longest beginning of a word that is a chord symbol by itself, and the chord."""
    written = word.rstrip(".)’'") if "(" not in word else word.rstrip(".’'")
    for said in (written, written.removesuffix("s"), written.partition("/")[0]):
        try:
            return said, Chord.parse(said)
        except VampError:
            continue
    return written, None


def _is_pitch_or_word(text: str, match: re.Match[str], word: str) -> bool:
    if _PITCH.fullmatch(word) or word in _ENGLISH or _PAPER.match(text, match.start() + len(word)):
        return True
    following = text[match.start() + len(word):match.start() + len(word) + 9].lower()
    return following.lstrip(" -").startswith("string") or (word in ("Am", "Em") and following.startswith(" i "))


def _in_chain(text: str, found: list[tuple[re.Match[str], tuple[str, Chord | None]]], certain: list[bool],
              index: int) -> bool:
    """Whether a bare letter stands in a row of chords ("Em – C – D", "Em, C and D")."""
    for step in (-1, 1):
        at = index
        while 0 <= at + step < len(found):
            one, two = sorted((at, at + step))
            between = text[found[one][0].start() + len(found[one][1][0]):found[two][0].start()]
            if not _BETWEEN.fullmatch(between):
                break
            at += step
            if certain[at]:
                return True
    return False


# -- scales and keys -------------------------------------------------------------------------------------------------
_KIND_NAMES = sorted({name for kind in KINDS.values() for name in (kind.name, *kind.other_names)}, key=len, reverse=True)
_KIND = "|".join(re.escape(name).replace(r"\ ", r"\s+") for name in _KIND_NAMES)
_TONIC = r"(?<![\w#'’])[A-G](?:##|bb|#|b|[ -](?:flat|sharp)\b)?"
_SCALE = re.compile(rf"(?P<tonic>{_TONIC})(?:[ -])(?P<kind>{_KIND})(?![\w#])(?P<after>(?:[ -](?:dominant\s+)?(?:seventh|7th"
                    r"|ninth|9th|sixth|6th|chord|triad|arpeggio|third|second|interval)s?\b)?)", re.IGNORECASE)
_KEY = re.compile(rf"\b[Kk]ey(?:\s+of\s+this\s+\w+|\s+here)?\s*(?P<how>of|is|:)\s+(?P<tonic>{_TONIC})"
                  rf"(?:[ -](?P<kind>{_KIND}))?(?![\w#])")
_BEGINS = re.compile(r"(?:^|[.:;!?]\s+|[“\"(]\s*)$")
_HOME = re.compile(r"\bhome(?:\s+scale)?(?:\s+(?:of|for)\s+[\w\s]{1,30}?)?\s*(?:is|:)\s*$", re.IGNORECASE)
_TAKES = re.compile(r"(?P<chord>[A-G][\w#+°øΔ()/]*)\s+(?:takes|wants|asks\s+for|gets)\s+(?:the\s+)?$")


def _tonic(word: str) -> str:
    return re.sub(r"[ -]sharp$", "#", re.sub(r"[ -]flat$", "b", word, flags=re.IGNORECASE), flags=re.IGNORECASE)


def _scales(text: str) -> Iterator[Mention]:
    for match in _SCALE.finditer(text):
        tonic, after = match["tonic"], match["after"].strip(" -").lower().rstrip("s")
        if not tonic[0].isupper() or not _is_tonic(text, match, after):
            continue
        end = match.end() if after else match.end("kind")
        kind = " ".join(match["kind"].lower().split())
        if after:
            chord = _chord_in_words(tonic, kind, after)
            if chord:
                yield Mention("chord", text[match.start():end], match.start(), end, chord)
            continue
        before = text[:match.start()]
        takes = _TAKES.search(before)
        value: object = Scale.parse(f"{_tonic(tonic)} {kind}")
        if takes:
            yield Mention("chord scale", text[takes.start():end], match.start(), end, (takes["chord"], value), True)
        else:
            bound = bool(_HOME.search(before))
            yield Mention("home" if bound else "scale", text[match.start():end], match.start(), end, value, bound)


def _is_tonic(text: str, match: re.Match[str], after: str) -> bool:
    """An A that begins a sentence may be the article: “A minor third …”, “A major change …”."""
    if match["tonic"] != "A" or not _BEGINS.search(text[:match.start()]):
        return True
    following = re.match(r"\s+(\w+)", text[match.end("kind"):])
    return not after and (following is None or following[1] in (
        "is", "has", "and", "or", "scale", "holds", "works", "fits", "for", "all", "in", "over", "with", "it", "to"))


def _chord_in_words(tonic: str, kind: str, after: str) -> Chord | None:
    size = after.split()[-1]
    if size not in _CHORD_WORDS or kind not in ("major", "minor", "dominant", "diminished"):
        return None
    number = _CHORD_WORDS[size]
    quality = {"major": "maj" if number in ("7", "9") else "", "minor": "m", "diminished": "dim"}[kind]
    quality = "" if "dominant" in after else quality
    return Chord.parse(f"{_tonic(tonic)}{quality}{number}")


def _keys(text: str) -> Iterator[Mention]:
    for match in _KEY.finditer(text):
        kind = " ".join((match["kind"] or "").lower().split())
        value = (Scale.parse(f"{_tonic(match['tonic'])} {kind}".strip()), bool(kind))
        words = text[match.start("tonic"):match.end()]
        yield Mention("key", words, match.start("tonic"), match.end(), value, match["how"] != "of")


# -- everything that a pattern alone finds: kind, pattern, what it means, bound ------------------------------------------
def _number(match: re.Match[str]) -> int:
    return number_of(next(group for group in match.groups() if group))


def _fraction(match: re.Match[str]) -> Fraction:
    return Fraction(next(group for group in match.groups() if group))


def _meter(match: re.Match[str]) -> Meter | None:
    try:
        return Meter.parse(match[1])
    except VampError:
        return None


def _tuning(match: re.Match[str]) -> Tuning | None:
    try:
        return Tuning.parse(next(group for group in match.groups() if group).strip())
    except VampError:
        return None


def _letters(match: re.Match[str]) -> tuple[str, tuple[str, ...]]:
    where = match["where"] or ""
    return where.lower(), tuple(re.findall(r"[A-G](?:#|b)?(?![a-z])", match["names"]))


_NOTE = r"[A-G](?:#|b)?"
_NAMED = "|".join(sorted((re.escape(name) for name in NAMED_TUNINGS if name != "bass"), key=len, reverse=True))
_SPECIAL = "|".join(sorted((re.escape(name) for name in NAMED_TUNINGS if " " in name or name.isupper()), key=len, reverse=True))
_MUSIC = r"(?:lesson|track|backing|loop|song|tune|click|metronome|groove|band|drill|piece|chart|vamp|riff|exercise|backing\s+track)"
_METER = r"(\d{1,2}/(?:2|4|8|16))(?![\d/])"
_FEEL = "|".join(sorted((re.escape(name) for name in FEELS), key=len, reverse=True))
_SECTION_WORDS = "verse|pre-chorus|chorus|bridge|intro|introduction|outro|coda|refrain|interlude|middle\\s+eight"
_FORM = r"(?:loop|vamp|form|chart|progression|cycle|chorus|blues|tune|sequence|song|changes|structure)"

PATTERNS: tuple[tuple[str, str, Read, bool], ...] = (
    ("position", rf"\bposition\s+(\d{{1,2}})(?!\d|\s*(?:-|–|to|and|or|,)\s*\d)|\b({ORDINAL})\s+position\b", _number, False),
    ("position", rf"\bfirst\s+finger\s+(?:belongs\s+to|stays\s+(?:at|on)|lives\s+at)\s+(?:the\s+)?"
     rf"(?:fret\s+(\d{{1,2}})\b|({ORDINAL})\s+fret\b)", _number, False),
    ("fret", rf"\bfrets?\s+(\d{{1,2}})\b|\b({ORDINAL})\s+fret\b", _number, False),
    ("capo", rf"\bcapo\s+(?:(?:at|on|in|to)\s+)?(?:the\s+)?(?:fret\s+)?(\d{{1,2}})\b|\bcapo\s+(?:at|on|in|to)\s+(?:the\s+)?"
     rf"({ORDINAL})\s+fret\b", _number, False),
    ("string", rf"\bstrings?\s+(\d{{1,2}})\b|\b({ORDINAL})\s+string\b", _number, False),
    ("strings", rf"\ball\s+(?:of\s+the\s+|your\s+)?({NUMBER})\s+strings\b|\b(?:this|your|our)\s+({NUMBER})-string\b",
     _number, False),
    ("string name", rf"\b(?P<where>low|high|lowest|highest|open)?\s*(?<![\w#])(?P<names>{_NOTE}(?:(?:,|\s+and|\s+or|,\s+and)"
     rf"\s+{_NOTE})*)[ -]strings?\b", _letters, False),
    ("tuning", rf"\b({_NAMED})\s+tuning\b|\btun(?:e|ed|es|ing)\s+(?:\w+\s+){{0,3}}?(?:to|in|is|:)\s+({_NAMED})\b"
     rf"|\bin\s+({_SPECIAL})\b(?!\s+(?:major|minor))|\b((?:{_NOTE}\d\s+){{3,8}}{_NOTE}\d)\b", _tuning, False),
    ("tempo", r"♩\s*=\s*(\d{2,3})\b|\b(\d{2,3})\s*(?:bpm\b|(?:beats|quarter\s+notes|quarters|crotchets)\s+(?:a|per)\s+minute)",
     _fraction, False),
    ("tempo", r"\btempo\s+of\s+(\d{2,3})\b", _fraction, False),
    ("tempo", rf"\btempo\s*(?:is|:|stays\s+at|here\s+is)\s*(\d{{2,3}})\b|\b{_MUSIC}\s+(?:is|runs|goes|moves|plays|sits"
     r"|ticks|stays|clicks|rolls)\s+(?:\w+\s+)?at\s+(\d{2,3})(?!\d|\s*%|\s+(?:per|db))\b", _fraction, True),
    ("tempo", r"\bat\s+(?:a\s+steady\s+)?(\d{2,3})(?=\s*(?:[.,;:)]|$|and\b|with\b|for\b|in\b))", _fraction, False),
    ("bar", rf"\bbars?\s+(\d{{1,3}})\b|\bthe\s+({ORDINAL})\s+bar\b", _number, False),
    ("length", rf"\b({NUMBER})[ -]bar\s+(?:\w+\s+)?{_FORM}\b|\b({NUMBER})\s+bars\s+of\s+\d{{1,2}}/\d", _number, False),
    ("count", rf"\b(?:these|the|our|with|only|just)\s+({NUMBER})\s+(?:different\s+)?chords\b", _number, False),
    ("section", r"\b(?:section|part)\s+([A-Z])\b|(?<![\w#])([A-Z])[ -](?:section|part)\b",
     lambda match: match[1] or match[2], False),
    ("section word", rf"\bthe\s+({_SECTION_WORDS})\b", lambda match: " ".join(match[1].lower().split()), False),
    ("meter", rf"\bin\s+{_METER}(?!\s+of)", _meter, False),
    ("meter", rf"(?<![\d/]){_METER}(?=\s+(?:time|meter|metre|bars?|feel|groove|pulse))", _meter, False),
    ("meter", rf"\b(?:bars?\s+of|meter\s+(?:is|of)|meter:|time\s+signature\s+(?:is|of))\s+{_METER}", _meter, True),
    ("beats", rf"\b({NUMBER})\s+beats\s+(?:a|to\s+the|per|in\s+(?:a|each|every|the))\s+bar\b", _number, False),
    ("beat", r"\bbeats?\s+(\d{1,2})\b|\bbeats\s+\d{1,2}\s+and\s+(\d{1,2})\b", _number, False),
    ("feel", rf"\b({_FEEL})\s+(?:feel|groove|beat|rhythm)\b|\bfeel:?\s+(?:is\s+)?(?:an?\s+)?({_FEEL})\b"
     r"|\b(?:the|this|a|as)\s+(shuffle|swing)\b|\b(swing|swung|straight)\s+(?:the\s+)?(?:eighths?|8ths|sixteenths?|16ths)"
     r"|\b(?:eighths|sixteenths)\s+(?:are\s+|stay\s+|quite\s+|all\s+|perfectly\s+)*(swung|straight)\b",
     lambda match: next(group for group in match.groups() if group).lower(), False),
    ("hand", r"\b(left|right)\s+hand\s+(?:\w+\s+)?(frets?|holds?|press(?:es)?|stretch(?:es)?|picks?|plucks?|strums?|taps?"
     r"|mutes?|damps?)\b", lambda match: (match[1].lower(), match[2].lower()), False),
)
_COMPILED = tuple((kind, re.compile(text, re.IGNORECASE if kind not in ("string name", "section") else 0), read,
                   bound) for kind, text, read, bound in PATTERNS)


def mentions(text: str) -> Iterator[Mention]:
    """Everything that a sentence names, in the order in which it stands."""
    named = [*_scales(text), *_keys(text)]
    # "A minor" in "A minor pentatonic" or the A of "the key of A" is no chord besides.
    taken = [(one.start, one.end) for one in named]
    named += [one for one in _chords(text) if not any(start <= one.start < end for start, end in taken)]
    for kind, pattern, read, bound in _COMPILED:
        for match in pattern.finditer(text):
            value = read(match)
            if value is not None:
                named.append(Mention(kind, match[0].strip(), match.start(), match.end(), value, bound))
    keys = {one.start for one in named if one.kind == "key"}
    yield from sorted((one for one in named if one.kind != "scale" or one.start not in keys),
                      key=lambda one: (one.start, one.end))
