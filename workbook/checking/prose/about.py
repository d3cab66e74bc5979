"""Whether a name in a sentence speaks of this lesson, or of something else that nobody can hold against it."""

from __future__ import annotations

import re
from collections.abc import Sequence

from theorylib.names.chords import Chord

from .facts import Facts
from .mention import Mention
from .words import ELSEWHERE, EXCUSES, HERE, INDEFINITE, LIKE, PERHAPS, TOLD

HARMONY = frozenset({"chord", "root", "scale", "home", "key"})  # kinds of names that may be borrowed or related
NEAR = 60  # signs: how far a word may stand from the name that it concerns
# Words for something else that come after such a joint say nothing of what stands before it.
_JOINT = re.compile(r";|,\s+(?:but|then|so|and|because|since|while|as|most|many|some|few)\b|\s[–—]\s+(?:but|then)\b")
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


class Said:
    """A sentence with what it names, and where words for other things or for this lesson first stand in it."""

    def __init__(self, text: str, every: Sequence[Mention], away: bool, facts: Facts, *,
                 is_heading: bool = False) -> None:
        self.text, self.every, self.away, self.is_heading = text, every, away, is_heading
        self._first: dict[re.Pattern[str], int] = {}
        # The chords of the changes among the names, and whether one of them lies under something.
        self.real = [one for one in every if one.kind in ("chord", "root") and facts.holds(one.value)]
        self.is_over_one = any(_OVER_BEFORE.search(self.before(one)) for one in self.real)

    def before(self, one: Mention) -> str:
        """The words just before a name."""
        return self.text[max(0, one.start - NEAR):one.start]

    def has(self, words: re.Pattern[str], end: int) -> bool:
        """Whether one of some words ends before a place."""
        if words not in self._first:
            match = words.search(self.text)
            self._first[words] = match.end() if match else len(self.text) + 1
        return self._first[words] <= end

    def scope(self, one: Mention) -> int:
        """Where the part of the sentence ends that says something of a name."""
        joint = _JOINT.search(self.text, one.end)
        return joint.start() if joint else len(self.text)


def is_elsewhere(one: Mention, said: Said, facts: Facts) -> bool:
    """Whether a name is another thing's: then it is not judged. `away`: what went before spoke of another thing."""
    before, end = said.before(one), said.scope(one)
    if said.away or LIKE.search(before):
        return True
    if one.bound:
        return said.has(ELSEWHERE, one.start)
    if said.has(ELSEWHERE, end) or (one.kind in EXCUSES and said.has(EXCUSES[one.kind], end)):
        return True
    if one.kind in ("tuning", "scale") and one.start < NEAR and _OPENS_WITH.fullmatch(before):
        return True
    if one.kind in ("chord", "root") and not facts.holds(one.value) and _is_laid_over(one, said):
        return True
    if one.kind == "scale" and _is_chosen(one, said, facts):
        return True
    if said.has(HERE, end):
        return False
    if one.kind in HARMONY and said.has(PERHAPS, end):
        return True
    if one.kind == "chord":
        return bool(INDEFINITE.search(before)) or _may_colour(one, said, facts)
    return one.kind == "scale" and not said.is_heading and not said.has(TOLD, end)


def _is_laid_over(one: Mention, said: Said) -> bool:
    """“Em7 over Cmaj7”, “over Cmaj7 play the Em7 arpeggio”, “the Em7 shape”: a chord laid over one of the chart's."""
    after = said.text[one.end:one.end + NEAR]
    if _SHAPE.match(after) or _OVER_SOME.match(after):
        return True
    if one.kind == "chord" and any(_is_richer(one.value, other.value) for other in said.real):
        return True
    near = (other for other in said.real if one.end < other.start < one.end + NEAR)
    if any(_LIES_OVER.fullmatch(said.text[one.end:other.start]) for other in near):
        return True
    is_notes = _NOTES.match(after) or _OF_NOTES.search(said.before(one)) or INDEFINITE.search(said.before(one))
    return bool(is_notes) and said.is_over_one


def _is_richer(chord: object, real: object) -> bool:
    """Whether a chord is another on the root of one of the chart's: a teacher who names both knows the chart's."""
    return isinstance(chord, Chord) and isinstance(real, Chord) and chord.root == real.root and chord.bass == real.bass


def _is_chosen(one: Mention, said: Said, facts: Facts) -> bool:
    """A scale that fits a chord of the changes on its root is a teacher's to choose, unless it is called the home."""
    scale = one.value
    if scale not in facts.fitting:
        return False
    if not any(home.tonic.pitch_class == scale.tonic.pitch_class for home in facts.homes):
        return True
    return said.has(_OVER_A_CHORD, len(said.text)) or any(
        isinstance(other.value, Chord) and other.value.root == scale.tonic for other in said.every)


def _may_colour(one: Mention, said: Said, facts: Facts) -> bool:
    """An arpeggio or a triad whose notes lie in the lesson's scales may be meant over any of its chords."""
    if not (_NOTES.match(said.text, one.end) or _OF_NOTES.search(said.before(one))):
        return False
    return any(one.value.pitch_classes <= scale.pitch_classes for scale in facts.scales)
