"""Judging sentences by a lesson's facts: what of the lesson they name, whether it is so, and what would be.

How a name is taken to be about this lesson: by words for it ("this loop", "the changes are", "bar 3", "we stay in"), by
its own words ("the key is …"), and for most names by default; not where the sentence speaks of something else
("compare", "later", "instead of", "in other keys"), where a chord lies over one of the chart's, or where the cell has
explained the name before. What cannot be judged so is counted and left in peace.
"""

from __future__ import annotations

from dataclasses import dataclass

from .about import Said, is_elsewhere
from .bars import misplaced
from .compare import JUDGES
from .facts import Facts
from .mention import Mention
from .mentions import mentions
from .sentences import Sentence, sentences
from .words import ELSEWHERE, GOES_ON, HERE

COMPARED = frozenset({"meter", "tempo", "tuning", "key", "scale"})
Answer = tuple[str, Mention, str | None]  # kind, name, what JUDGES says of it
LONGEST_QUOTE = 90  # signs of the sentence that a message shows


@dataclass(frozen=True, slots=True)
class Contradiction:
    """What a sentence says that the lesson belies: its line, the words at fault, the sentence, what would be true."""

    kind: str
    line: int
    words: str
    sentence: str
    right: str

    @property
    def message(self) -> str:
        said = self.sentence if len(self.sentence) <= LONGEST_QUOTE else self.sentence[:LONGEST_QUOTE].rstrip() + " …"
        return f"“{self.words}” contradicts the lesson: “{said}”"


@dataclass(frozen=True, slots=True)
class Judged:
    """The contradictions of a text, how many sentences it has, and of how many a name was held against the lesson."""

    contradictions: tuple[Contradiction, ...] = ()
    sentences: int = 0
    judged: int = 0

    @property
    def unjudged(self) -> int:
        """Sentences of which nothing could be judged."""
        return self.sentences - self.judged


def contradictions(words: str, facts: Facts) -> Judged:
    """Judge a piece of Markdown by a lesson's facts.

    >>> from theorylib import Chart
    >>> from workbook.checking.prose.facts import facts_about
    >>> facts = facts_about([Chart.parse("| Am7 | D9 |")])
    >>> contradictions("When the Dm7 comes, wait.", facts).contradictions[0].right
    'the changes hold Am7 and D9'
    >>> contradictions("Compare it with Em7.", facts).contradictions
    ()
    """
    found: dict[tuple[int, str, str], Contradiction] = {}
    count = judged = 0
    explained: set[object] = set()  # chords and scales that the text has named as another thing's
    away = False
    for sentence in sentences(words):
        count += 1
        away = _speaks_of_another(sentence, away)
        said = Said(sentence.text, tuple(mentions(sentence.text)), away, facts,
                    is_heading=sentence.is_heading)
        answers = [(one.kind, one, _judged(one, said, facts, explained)) for one in said.every]
        judged += any(right is not None for _, _, right in answers)
        answers = _but_comparisons(answers)
        answers += [("place", one, right) for one, right in misplaced(said.text, said.every, facts)
                    if not is_elsewhere(one, said, facts)]
        for kind, one, right in answers:
            if right:
                _keep(found, kind, one, sentence, right)
        away = away or said.has(ELSEWHERE, len(said.text))
    return Judged(tuple(found.values()), count, judged)


def _keep(found: dict[tuple[int, str, str], Contradiction], kind: str, one: Mention, sentence: Sentence,
          right: str) -> None:
    """Note a contradiction; the same words of a sentence once."""
    line, words = sentence.line_at(one.start), sentence.words_at(one.start, one.end)
    found.setdefault((line, words, sentence.typed), Contradiction(kind, line, words, sentence.typed, right))


def _but_comparisons(answers: list[Answer]) -> list[Answer]:
    """Without those that stand beside the true one of their kind: “a bar of 7/8 is a bar of 4/4 less an eighth”."""
    so = {kind for kind, _, right in answers if right == "" and kind in COMPARED}
    return [(kind, one, None if right and kind in so else right) for kind, one, right in answers]


def _speaks_of_another(sentence: Sentence, before: bool) -> bool:
    """Whether a sentence goes on about another thing, or stands under a heading that does."""
    if sentence.heading and ELSEWHERE.search(sentence.heading) and not HERE.search(sentence.text):
        return True
    return before and not sentence.opens and bool(GOES_ON.match(sentence.text))


def _judged(one: Mention, said: Said, facts: Facts, explained: set[object]) -> str | None:
    """What JUDGES says of a name; None as well where it is not about the lesson."""
    is_name = one.kind in ("chord", "scale")
    if is_name and one.value in explained:
        return None
    if is_elsewhere(one, said, facts):
        if is_name:
            explained.add(one.value)
        return None
    return JUDGES[one.kind](one, facts)
