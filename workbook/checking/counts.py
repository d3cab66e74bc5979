"""How much of a lesson a check has looked at: counted by the checks themselves, and told beside what they found."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields

from .findings import Finding


@dataclass(frozen=True, slots=True)
class Counts:
    """What was checked: lines of notes, notes placed on the neck, marked claims, and sentences of prose.

    A sentence counts as `judged` where something that it names was held against the lesson; all others are `unjudged`:
    what they say, nobody but the teacher can know. `written` are those that the kit wrote and nobody changed: whether
    they are so is asked of their makers.
    """

    lines: int = 0
    places: int = 0
    claims: int = 0
    judged: int = 0
    unjudged: int = 0
    written: int = 0

    def __add__(self, other: Counts) -> Counts:
        return Counts(*(getattr(self, one.name) + getattr(other, one.name) for one in fields(Counts)))

    def __str__(self) -> str:
        """“2 lines with 96 places, no claims, 38 sentences: 1 of the kit's, 7 judged, 30 that it cannot judge”."""
        told = {"of the kit's": self.written, "judged": self.judged, "that it cannot judge": self.unjudged}
        kinds = ", ".join(f"{count} {words}" for words, count in told.items() if count)
        return ", ".join((f"{_counted(self.lines, 'line')} with {_counted(self.places, 'place')}",
                          _counted(self.claims, "claim"),
                          _counted(sum(told.values()), "sentence") + f": {kinds}" * bool(kinds)))


@dataclass(frozen=True, slots=True)
class Checked:
    """What a check found, and how much it looked at."""

    findings: tuple[Finding, ...] = ()
    counts: Counts = Counts()

    @classmethod
    def of(cls, parts: Iterable[Checked | Iterable[Finding]]) -> Checked:
        """The parts together: checks that count, and findings of those that do not."""
        found: list[Finding] = []
        counts = Counts()
        for part in parts:
            found += part.findings if isinstance(part, Checked) else part
            counts += part.counts if isinstance(part, Checked) else Counts()
        return cls(tuple(found), counts)


def _counted(count: int, word: str) -> str:
    return f"{count or 'no'} {word}{'' if count == 1 else 's'}"
