"""What a sentence names that a lesson can belie: chords, scales and keys; all the rest by the phrases of patterns."""
from __future__ import annotations

import re
from collections.abc import Iterator

from theorylib.errors import VampError
from theorylib.names.chords import Chord
from theorylib.names.scales import KINDS, Scale

from .mention import Mention
from .patterns import phrases_in

# -- chords ----------------------------------------------------------------------------------------------------------
_SYMBOL = re.compile(r"(?<![\w#'’/.])[A-G](?:##|bb|#|b)?[\w#+°øΔ()/]*+(?:-?\d{1,2}[\w#+°øΔ()/]*+)?")
_BARE = re.compile(r"[A-G](?:##|bb|#|b)?")
_ENGLISH = frozenset({"Do", "Go", "Co", "Bo", "Eo", "AM", "BM", "CM", "DM"})
_PAPER = re.compile(r"\s+(?:paper|pages?|sheets?|handouts?|size)\b")
_CHORD_WORDS = {"seventh": "7", "7th": "7", "ninth": "9", "9th": "9", "sixth": "6", "6th": "6", "chord": "",
                "triad": ""}
_BETWEEN = re.compile(r"\s*(?:,|-|–|—|→|and|or|to|/|\||,\s*and)\s*")
NEAR = 60  # signs: how far back a word may stand that tells what a scale is
_IS_NOTE = re.compile(r"\s+(?:of\b|\(|[A-G](?:#|b)?(?![\w#]))")
_IS_CHORD = re.compile(r"[\s]+(?:chord|major chord)s?\b")


def _chords(text: str) -> Iterator[Mention]:
    found = [(match.start(), *_read_chord(match[0])) for match in _SYMBOL.finditer(text)]
    in_row = _in_rows(text, found)
    for index, (start, word, chord) in enumerate(found):
        end = start + len(word)
        if chord is None or chord.root is None or _is_pitch_or_word(text, start, word):
            continue
        if not _BARE.fullmatch(word):
            yield Mention("chord", word, start, end, chord)
            continue
        is_called = _IS_CHORD.match(text, end) and not (word == "A" and _begins(text, start))  # “A chord tone …”
        if is_called or (index in in_row and not _IS_NOTE.match(text, end)):
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


def _is_pitch_or_word(text: str, start: int, word: str) -> bool:
    end = start + len(word)
    if word in _ENGLISH or _PAPER.match(text, end):
        return True
    following = text[end:end + 9].lower()
    return following.lstrip(" -").startswith("string") or (word in ("Am", "Em") and following.startswith(" i "))


def _in_rows(text: str, found: list[tuple[int, str, Chord | None]]) -> set[int]:
    """The indices of all in a row of names with a chord symbol among them: “Em – C – D”, “Em, C and D”."""
    rows: list[list[int]] = []
    last = -1
    for index, (start, word, _) in enumerate(found):
        if last >= 0 and _BETWEEN.fullmatch(text, last, start):
            rows[-1].append(index)
        else:
            rows.append([index])
        last = start + len(word)
    certain = {index for index, (_, word, chord) in enumerate(found) if chord and not _BARE.fullmatch(word)}
    return {index for row in rows if certain.intersection(row) for index in row}


def _begins(text: str, start: int) -> bool:
    """Whether a sentence begins at a place."""
    return start == 0 or bool(_BEGINS.search(text[max(0, start - 5):start]))


# -- scales and keys -------------------------------------------------------------------------------------------------
_KIND_NAMES = {name for kind in KINDS.values() for name in (kind.name, *kind.other_names)}
_KIND = "|".join(re.escape(name).replace(r"\ ", r"\s+") for name in sorted(_KIND_NAMES, key=len, reverse=True))
_TONIC = r"(?<![\w#'’])[A-G](?:##|bb|#|b|[ -](?:flat|sharp)\b)?"
_SCALE = re.compile(rf"(?P<tonic>{_TONIC})[ -](?P<kind>{_KIND})(?![\w#])"
                    r"(?P<after>(?:[ -](?:dominant\s+)?"
                    r"(?:seventh|7th|ninth|9th|sixth|6th|chord|triad|arpeggio|third|second|interval)s?\b)?)",
                    re.IGNORECASE)
_KEY = re.compile(rf"\b[Kk]ey(?:\s+of\s+this\s+\w+|\s+here)?\s*(?P<how>of|is|:)\s+(?P<tonic>{_TONIC})"
                  rf"(?:[ -](?P<kind>{_KIND}))?(?![\w#])")
_BLUES_IN = re.compile(rf"(?:\b(?:this|our|the)|·)(?:\s+[\w-]+){{1,3}}\s+in\s+(?P<tonic>{_TONIC})"
                       rf"(?:[ -](?P<kind>{_KIND}))?"
                       r"(?=\s*(?:[.,;:·)]|$))")
_OF = re.compile(rf"\b(?P<kind>{_KIND})\s+scale\s+(?:of|on|from)\s+(?P<tonic>{_TONIC})(?![\w#])")
_BEGINS = re.compile(r"[.:;!?]\s{1,3}$|[“\"(]\s{0,3}$")
_HOME = re.compile(r"\bhome(?:\s+scale)?(?:\s+(?:of|for)\s+[\w\s]{1,30}?)?\s*(?:is|:)\s*$"
                   r"|\bhome\s+scales?(?:\s+of\s+these\s+changes)?\s*\(?$", re.IGNORECASE)
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
        before = text[max(0, match.start() - NEAR):match.start()]
        takes = _TAKES.search(before)
        value: object = Scale.parse(f"{_tonic(tonic)} {kind}")
        if takes:
            start = match.start() - len(takes[0])
            yield Mention("chord scale", text[start:end], start, end, (takes["chord"], value), True)
        else:
            bound = bool(_HOME.search(before))
            yield Mention("home" if bound else "scale", text[match.start():end], match.start(), end, value, bound)


def _scales_of(text: str) -> Iterator[Mention]:
    """“the blues scale of D”."""
    for match in _OF.finditer(text):
        kind = " ".join(match["kind"].lower().split())
        scale = Scale.parse(f"{_tonic(match['tonic'])} {kind}")
        yield Mention("scale", match[0], match.start(), match.end(), scale)


def _is_tonic(text: str, match: re.Match[str], after: str) -> bool:
    """An A that begins a sentence may be the article: “A minor third …”, “A major change …”."""
    if match["tonic"] != "A" or not _begins(text, match.start()):
        return True
    following = re.match(r"\s+(\w+)", text[match.end("kind"):])
    return not after and (following is None or following[1] in (
        "is", "has", "and", "or", "scale", "holds", "works", "fits", "for", "all", "in", "over", "with", "to"))


def _chord_in_words(tonic: str, kind: str, after: str) -> Chord | None:
    size = after.split()[-1]
    if size not in _CHORD_WORDS or kind not in ("major", "minor", "dominant", "diminished"):
        return None
    number = _CHORD_WORDS[size]
    quality = {"major": "maj" if number in ("7", "9") else "", "minor": "m", "diminished": "dim"}[kind]
    quality = "" if "dominant" in after else quality
    return Chord.parse(f"{_tonic(tonic)}{quality}{number}")


def _keys(text: str) -> Iterator[Mention]:
    for pattern in (_KEY, _BLUES_IN):
        for match in pattern.finditer(text):
            kind = " ".join((match["kind"] or "").lower().split())
            value = (Scale.parse(f"{_tonic(match['tonic'])} {kind}".strip()), bool(kind))
            start = match.start("tonic")
            bound = pattern is _KEY and match["how"] != "of"
            yield Mention("key", text[start:match.end()], start, match.end(), value, bound)


# -- all together ----------------------------------------------------------------------------------------------------
def mentions(text: str) -> Iterator[Mention]:
    """Everything that a sentence names, in the order in which it stands."""
    named = [*_scales(text), *_scales_of(text), *_keys(text)]
    # "A minor" in "A minor pentatonic" or the A of "the key of A" is no chord besides.
    taken = [(one.start, one.end) for one in named if one.kind != "chord scale"]
    named += [one for one in _chords(text) if not any(start <= one.start < end for start, end in taken)]
    named += phrases_in(text)
    named = [one for one in named if not any(_holds(other, one) for other in named)]
    yield from sorted(named, key=lambda one: (one.start, one.end))


def _holds(wide: Mention, one: Mention) -> bool:
    """Whether a name is only a part of another: “at 92” of “the track runs at 92”, the scale of “the key is …”."""
    if wide == one or not (one.kind == wide.kind or (one.kind, wide.kind) == ("scale", "key")):
        return False
    goes_on = wide.start < one.start < wide.end and wide.value == one.value  # “the track runs at 92 bpm”
    return goes_on or (wide.start <= one.start and one.end <= wide.end)
