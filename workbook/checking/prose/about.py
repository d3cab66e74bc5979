"""Whether a name in a sentence speaks of this lesson, or of something else that nobody can hold against it."""

from __future__ import annotations

import re
from collections.abc import Sequence

from theorylib.names.chords import Chord
from theorylib.names.scales import Scale

from .facts import Facts
from .mention import Mention
from .words import ELSEWHERE, EXCUSES, HERE, INDEFINITE, LIKE, PERHAPS, TOLD

# Words for something else that come after such a joint say nothing of what stands before it.
_JOINT = re.compile(r";|,\s+(?:but|then|so|and|because|since|while)\b|\s[–—]\s+(?:but|then)\b")
_OPENS_WITH = re.compile(r"\s*In\s+$")  # “In standard tuning …”, “In C major …”: of these things at large
# A chord over one of the chart's, in the words between the two.
_LIES_OVER = re.compile(r"[^.;:]{0,40}\b(?:over|against|above|on\s+top\s+of|on|for)\s+"
                        r"(?:(?:the|each|every|this|that|our)\s+)?$", re.IGNORECASE)
_OVER_SOME = re.compile(r"[^.;:]{0,30}\b(?:over|against|above|on\s+top\s+of)\s+(?:it|them|this|that|both|the\s+(?:first"
                        r"|second|third|fourth|last|same|minor|dominant|major|whole|bass|tonic|root|one|whole))\b",
                        re.IGNORECASE)
_OVER_BEFORE = re.compile(r"\b(?:over|against|on\s+top\s+of)\s+(?:the\s+|an?\s+)?$", re.IGNORECASE)
_NOTES = re.compile(r"\s+(?:\w+\s+)?(?:arpeggios?|triads?|notes|sound|colou?r|shapes?|pentatonic|frame)\b",
                    re.IGNORECASE)
_OF_NOTES = re.compile(r"\b(?:arpeggios?|triads?|notes|shapes?|sound)\s+(?:of|on)\s+(?:the\s+|an?\s+)?$", re.IGNORECASE)
_OVER_A_CHORD = re.compile(r"\b(?:over|on|for|against)\s+(?:the\s+|this\s+)?(?:\w+\s+)?(?:chord|dominant|tonic|bar)\b",
                           re.IGNORECASE)
_SHAPE = re.compile(r"[\s-]+(?:\w+\s+)?(?:shapes?|forms?|fingerings?)\b", re.IGNORECASE)


def is_elsewhere(one: Mention, text: str, every: Sequence[Mention], facts: Facts, away: bool) -> bool:
    """Whether a name is another thing's: then it is not judged. `away`: what went before spoke of another thing."""
    before = text[:one.start]
    if away or LIKE.search(before):
        return True
    end = _JOINT.search(text, one.end)
    scope = text[:end.start()] if end else text
    if one.bound:
        return bool(ELSEWHERE.search(before))
    if ELSEWHERE.search(scope):
        return True
    if one.kind in EXCUSES and EXCUSES[one.kind].search(scope):
        return True
    if one.kind in ("tuning", "scale") and _OPENS_WITH.fullmatch(before):
        return True
    if one.kind == "chord" and not facts.holds(one.value) and _is_laid_over(one, text, every, facts):
        return True
    if one.kind == "scale" and _is_chosen(one, text, every, facts):
        return True
    if HERE.search(scope):
        return False
    if PERHAPS.search(scope):
        return True
    if one.kind == "chord":
        return bool(INDEFINITE.search(before)) or _may_colour(one, text, facts)
    return one.kind == "scale" and not TOLD.search(scope)


def _is_laid_over(one: Mention, text: str, every: Sequence[Mention], facts: Facts) -> bool:
    """“Em7 over Cmaj7”, “over Cmaj7 play the Em7 arpeggio”, “the Em7 shape”: a chord laid over one of the chart's."""
    after = text[one.end:]
    if _SHAPE.match(after) or _OVER_SOME.match(after):
        return True
    real = [other for other in every if other.kind in ("chord", "root") and other.start != one.start
            and facts.holds(other.value)]
    if any(_is_richer(one.value, other.value) for other in real):
        return True
    if any(other.start > one.end and _LIES_OVER.fullmatch(text[one.end:other.start]) for other in real):
        return True
    is_notes = bool(_NOTES.match(after) or _OF_NOTES.search(text[:one.start]) or INDEFINITE.search(text[:one.start]))
    return is_notes and any(_OVER_BEFORE.search(text[:other.start]) for other in real)


def _is_richer(chord: object, real: object) -> bool:
    """Whether a chord is another on the root of one of the chart's: a teacher who names both knows the chart's."""
    return isinstance(chord, Chord) and isinstance(real, Chord) and chord.root == real.root and chord.bass == real.bass


def _is_chosen(one: Mention, text: str, every: Sequence[Mention], facts: Facts) -> bool:
    """A scale that fits a chord of the changes on its root is a teacher's to choose, unless it is called the home."""
    scale = one.value
    assert isinstance(scale, Scale)
    if scale not in facts.fitting:
        return False
    is_of_home = any(home.tonic.pitch_class == scale.tonic.pitch_class for home in facts.homes)
    return not is_of_home or bool(_OVER_A_CHORD.search(text)) or any(
        isinstance(other.value, Chord) and other.value.root == scale.tonic for other in every)


def _may_colour(one: Mention, text: str, facts: Facts) -> bool:
    """An arpeggio or a triad whose notes lie in the lesson's scales may be meant over any of its chords."""
    if not (_NOTES.match(text, one.end) or _OF_NOTES.search(text[:one.start])):
        return False
    chord = one.value
    assert isinstance(chord, Chord)
    return any(chord.pitch_classes <= scale.pitch_classes for scale in facts.scales)
