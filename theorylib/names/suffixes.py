"""What the text after a chord's root means: its quality, and what is altered, added and left out, whatever the root.

All spellings of a chord come to one value: tensions are folded into the quality, the rest stands in a fixed order. The
vocabulary is that of `qualities`; the conventions are those of `chords`.
"""

from __future__ import annotations

import re
from functools import lru_cache

from ..errors import ChordError
from .qualities import (
    BARE_ADDITIONS,
    GROWN,
    LONGEST_READ,
    MODIFIER_READS,
    ORDER,
    QUALITIES,
    READS,
    SHRUNK,
)

# Quality, alterations, additions, omissions.
Meaning = tuple[str, tuple[str, ...], tuple[str, ...], tuple[str, ...]]
_BARE = re.compile("|".join(sorted(BARE_ADDITIONS, reverse=True)))
_MODIFIER = re.compile("|".join(sorted(map(re.escape, MODIFIER_READS), key=len, reverse=True)))
_TOPPED_BY_A_NINTH = ("9", "maj9", "m9", "mMaj9", "9sus4", "6/9", "m6/9")


@lru_cache(maxsize=4096)
def read_suffix(body: str) -> Meaning | None:
    """What the text between root and bass means, whatever the root; None if it cannot be read."""
    read = read_body(body)
    return None if read is None else _canonical(*read)


def read_body(body: str) -> tuple[str, list[tuple[str, str]]] | None:
    """(quality, modifiers) of the text after the root; the longest quality whose rest can be read wins."""
    for length in range(min(len(body), LONGEST_READ), -1, -1):
        name = READS.get(body[:length])
        if name is None:
            continue
        # "C7/9" adds a 9th; "C/9" names no bass.
        is_triad = not any(map(str.isdigit, body[:length]))
        over_a_triad = is_triad and body[length : length + 1] == "/"
        rest = None if over_a_triad else _read_modifiers(body[length:])
        if rest is None:
            continue
        # A short name: its own words are read again, then what followed it.
        if name not in QUALITIES:
            quality, own = read_body(name) or ("", [])
            return quality, own + rest
        return name, rest
    return None


def _read_modifiers(text: str) -> list[tuple[str, str]] | None:
    found: list[tuple[str, str]] = []
    depth = index = 0
    while index < len(text):
        sign = text[index]
        if sign in "(,) ":
            depth += {"(": 1, ")": -1}.get(sign, 0)
            if depth < 0 or (sign in ", " and not depth):
                return None
            index += 1
            continue
        match = _MODIFIER.match(text, index)
        if match:
            found.append(MODIFIER_READS[match[0]])
            index = match.end()
            continue
        bare = _BARE.match(text, index) if depth else None
        if not bare:
            return None
        found.append(BARE_ADDITIONS[bare[0]])
        index += len(bare[0])
    return None if depth else found


def _canonical(quality: str, modifiers: list[tuple[str, str]]) -> Meaning:
    """One value for all spellings of a chord: tensions folded into the quality, the rest in a fixed order."""
    if not modifiers:
        return quality, (), (), ()
    quality = _suspended(quality, modifiers)
    alter, add = _sorted_out(quality, _asked(modifiers, "alter"), _asked(modifiers, "add"))
    if quality == "dimMaj7":  # is mMaj7 with a b5, until nothing more is asked of it
        quality, alter = "mMaj7", alter | {"b5"}
    quality, alter = _fifth_folded(quality, alter)
    alter -= set(QUALITIES[quality])
    quality = _shrunk(quality, alter)
    add -= set(QUALITIES[quality])
    if "6" in QUALITIES[quality]:
        add -= {"13"}  # the same note
    quality, add = _grown(quality, alter, add)
    if quality == "mMaj7" and "b5" in alter:
        quality, alter = "dimMaj7", alter - {"b5"}
    quality, omit = _with_omissions(quality, alter, add, _asked(modifiers, "omit"))
    return quality, _ordered(alter), _ordered(add), tuple(sorted(omit))


def _asked(modifiers: list[tuple[str, str]], wanted: str) -> set[str]:
    return {degree for kind, degree in modifiers if kind == wanted}


def _ordered(degrees: set[str]) -> tuple[str, ...]:
    return tuple(sorted(degrees, key=lambda degree: ORDER[degree]))


def _suspended(quality: str, modifiers: list[tuple[str, str]]) -> str:
    """The quality with its sus, if the modifiers ask for one; raises ChordError where it has no third to hold back."""
    for kind, target in modifiers:
        if kind != "sus":
            continue
        is_suspended_already = quality.endswith(target) or (quality, target) == ("11", "sus4")
        if quality + target in QUALITIES:
            quality += target
        elif not is_suspended_already:
            raise ChordError(
                f"“{quality}” cannot take {target}",
                value=f"{quality}{target}",
                expected="sus2 or sus4 on a major triad or a 7, sus4 on a 9, 13 or maj7",
            )
    return quality


def _sorted_out(quality: str, alter: set[str], add: set[str]) -> tuple[set[str], set[str]]:
    """(alterations, additions): a changed tension alters a chord with a 6th or 7th, and is added to a triad."""
    changed_tensions = {
        degree for degree in alter | add if degree not in ("b5", "#5", "9", "11", "13")
    }
    has_sixth_or_seventh = any(degree in QUALITIES[quality] for degree in ("6", "b7", "7", "bb7"))
    if has_sixth_or_seventh:
        return alter | changed_tensions, add - changed_tensions
    return alter - changed_tensions, add | changed_tensions


def _fifth_folded(quality: str, alter: set[str]) -> tuple[str, set[str]]:
    """Triads whose fifth alone is altered have names of their own."""
    if (quality, alter) == ("m", {"b5"}):
        return "dim", set()
    if (quality, alter) == ("", {"#5"}):
        return "aug", set()
    return quality, alter


def _shrunk(quality: str, alter: set[str]) -> str:
    """The quality without the natural tensions that an alteration replaces, from the highest."""
    altered_tensions = alter & {"b9", "#9", "#11", "b13"}
    for degree in sorted(altered_tensions, key=lambda one: int(one[1:]), reverse=True):
        number = degree[1:]
        # The suspended 4th is no tension: it stays beside the #11.
        is_the_suspended_fourth = number == "11" and "sus" in quality
        # A 13b9 stays a 13: only its 9th is replaced.
        lies_under_a_higher_one = number == "9" and quality not in _TOPPED_BY_A_NINTH
        if is_the_suspended_fourth or lies_under_a_higher_one:
            continue
        if number in QUALITIES[quality] and quality in SHRUNK:
            quality = SHRUNK[quality]
    return quality


def _grown(quality: str, alter: set[str], add: set[str]) -> tuple[str, set[str]]:
    """The quality with the added natural tensions that make it the next of its family, and what is left to add."""
    ninth_is_altered = bool(alter & {"b9", "#9"})
    takes_thirteenth = "13" in add and "9" not in add and "b13" not in alter
    if takes_thirteenth and ninth_is_altered and quality in ("7", "7sus4"):  # G7(b9,13) is G13b9
        quality = quality.replace("7", "13")
        add = add - {"13"}
    for degree in ("9", "13", "11"):
        is_altered = bool({"b" + degree, "#" + degree} & alter)
        if degree in add and not is_altered and (quality, degree) in GROWN:
            quality = GROWN[quality, degree]
            add = add - {degree, *QUALITIES[quality]}
    return quality, add


def _with_omissions(
    quality: str, alter: set[str], add: set[str], omit: set[str]
) -> tuple[str, set[str]]:
    """The quality, and of the omissions those that leave something out: a triad without its 3rd is a power chord."""
    if omit:
        degrees = degrees_of(quality, tuple(sorted(alter)), tuple(sorted(add)), ())
        omit = omit & {degree.lstrip("b#") for degree in degrees}
    if "3" in omit and not quality and not alter:
        quality, omit = "5", omit - {"3"}
    if "5" in omit and alter & {"b5", "#5"}:
        omit = omit - {"5"}
    return quality, omit


@lru_cache(maxsize=1024)
def degrees_of(
    quality: str,
    alterations: tuple[str, ...],
    additions: tuple[str, ...],
    omissions: tuple[str, ...],
) -> tuple[str, ...]:
    degrees = list(QUALITIES[quality])
    is_sus = "sus" in quality
    extra = {degree for degree in (*alterations, *additions) if degree not in degrees}
    for degree in alterations:
        natural = degree.lstrip("b#")
        is_the_suspended_fourth = natural == "11" and is_sus
        if natural in degrees and not is_the_suspended_fourth:
            degrees[degrees.index(natural)] = degree
            extra.discard(degree)
    if "5" in degrees and {"b5", "#5"} & extra:
        degrees.remove("5")
    degrees += _ordered(extra)
    if not is_sus:  # a sus chord keeps its 4th or 2nd where the third would stand
        degrees.sort(key=lambda degree: ORDER[degree])
    return tuple(degree for degree in degrees if degree.lstrip("b#") not in omissions)
