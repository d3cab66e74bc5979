"""A fingered line to practise as a cell shows it: what a drill can do, and a phrase of one's own besides."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Self

from theorylib.changes.charts import Chart
from theorylib.errors import FingeringError, as_text
from theorylib.playing.fingering import FREE, finger, without_places
from theorylib.playing.lines import Line
from theorylib.playing.marks import JOINING
from theorylib.practice.phrase_plan import Statement
from theorylib.practice.variations import backwards, displaced, from_degree, through_changes

from ..draw.neck import plot_neck
from ..draw.score import score
from ..exchange.musicxml import musicxml_text
from ..lesson import care, chorus_words, phrase_words
from ..play.player import Player, listen
from ..play.smf import midi_bytes
from ..reader import reader
from .telling import Words

if TYPE_CHECKING:
    from ..draw.neck import NeckPicture
    from ..draw.pictures import Picture


@dataclass(frozen=True, slots=True)
class Drill:
    """A fingered line to practise, with the tempo it works up to.

    >>> Drill(Line.parse("q A3 C4 D4 E4")).line.words().splitlines()[-1]
    'q A3 C4 D4 E4 |'
    """

    line: Line

    def score(self, **options: Any) -> Picture:
        """Staff and TAB with chord symbols and fingers; `options` go to `workbook.draw.score.score`."""
        return score(self.line, **options)

    def titled(self, title: str) -> Self:
        """The same under another title, \"\" for none."""
        return replace(self, line=replace(self.line, title=as_text(title, "title", "a text")))

    def neck(self, **options: Any) -> NeckPicture:
        """The places that the drill uses, on the neck; `options` go to `workbook.draw.neck.plot_neck`."""
        return plot_neck(self.line, **options)

    def listen(self, **options: Any) -> Player:
        """The drill over its backing track, to be heard; `options` go to `workbook.play.player.listen`."""
        return listen(self.line, **options)

    def plan(self, target: int | Fraction | None = None, steps: int | None = None) -> Words:
        """A table of practice tempos up to `target` (quarter notes a minute; None: the chart's), with the care text.

        Where the reader has a range of tempos the plan begins and ends with it, unless it is told its own target.
        """
        who = reader()
        start, goal = who.tempos if who.tempos and target is None else (None, target or self.line.chart.tempo)
        return Words(care.practice_plan(self.line, goal, steps or who.steps, start))

    def _repr_mimebundle_(self, include: object = None, exclude: object = None) -> Any:
        return self.score()._repr_mimebundle_(include, exclude)

    def __repr__(self) -> str:
        return f"{self.line.title} over {len(self.line.chords())} chords, {len(self.line.notes)} notes"


@dataclass(frozen=True, slots=True, repr=False)
class Phrase(Drill):
    """A phrase of one's own: a drill that knows what its notes do over the changes, and how it may be varied.

    A variation is a phrase again, fingered anew; where its slurs and slides cannot be played there, each note is struck
    and the title says so.
    """

    def notes(self) -> Words:
        """A table of its notes: where, which, their degree over the chord, what each does there.

        >>> from workbook.kit import phrase
        >>> phrase("q A3 B3 C4 E4", over="| Am7 |").notes()
        | Bar | Beat | Note | Over | Degree | What it does |
        |---|---|---|---|---|---|
        | 1 | 1 | A3 | Am7 | 1 | chord tone |
        | 1 | 2 | B3 | Am7 | 9 | passing note to C4 |
        | 1 | 3 | C4 | Am7 | ♭3 | chord tone |
        | 1 | 4 | E4 | Am7 | 5 | chord tone |
        """
        return Words(phrase_words.notes_table(self.line))

    def landings(self) -> Words:
        """Where it lands at each change of chord, a bullet for each."""
        return Words(phrase_words.landings_list(self.line))

    def hands(self) -> Words:
        """How hard it is on the hands, in figures, with the reasons for care."""
        return Words(phrase_words.hands_list(self.line))

    def positions(self) -> tuple[int, ...]:
        """The positions in which it can be played as it is."""
        return phrase_words.positions_of(self.line)

    def in_position(self, position: int) -> Phrase:
        """The same notes at other places: those of a position."""
        return self._anew(without_places(self.line), f"position {position}", position)

    def through(self, changes: Chart | str | None = None) -> Phrase:
        """The phrase over each chord of some changes in turn (None: of its own), its notes those of the new chords."""
        return self._anew(through_changes(self.line, self.line.chart if changes is None else changes))

    def from_degree(self, steps: int) -> Phrase:
        """The phrase from another degree: so many steps of the scale higher, or lower."""
        return self._anew(from_degree(self.line, steps))

    def backwards(self) -> Phrase:
        """Its notes from the last to the first, in its own rhythm."""
        return self._anew(backwards(self.line))

    def displaced(self, beats: Fraction | int | str = Fraction(1, 2)) -> Phrase:
        """The phrase so many beats later, at its own places."""
        return replace(self, line=displaced(self.line, beats))

    def midi(self) -> bytes:
        """A Standard MIDI File of it, the changes as chords under it."""
        return midi_bytes([self.line], title=self.line.title)

    def musicxml(self) -> str:
        """Its score as MusicXML 4.0."""
        return musicxml_text([self.line], title=self.line.title)

    def tab(self) -> str:
        """It as TAB in plain signs, to send in a mail: what `phrase` reads."""
        return self.line.tab()

    def words(self) -> str:
        """It as a line of words: what `phrase` reads."""
        return self.line.words()

    def _anew(self, line: Line, more: str = "", position: int | None = None) -> Phrase:
        """A variation fingered in a position, or without one where the hand stands now, else wherever it may go."""
        titled = replace(line, title=", ".join(filter(None, (line.title, more))))
        struck = titled.with_notes(lambda note: replace(
            note, marks=tuple(mark for mark in note.marks if mark.kind not in JOINING)))
        struck = replace(struck, title=f"{titled.title}, each note struck")
        hands: list[int | str] = [position] if position is not None else [self._hand(), FREE]
        tries = [(one, hand) for one in (titled, struck) for hand in hands]
        for one, hand in tries[:-1]:
            with suppress(FingeringError):
                return Phrase(finger(one, line.tuning, hand))
        return Phrase(finger(tries[-1][0], line.tuning, tries[-1][1]))

    def _hand(self) -> int:
        """The fret at which the hand stands: the line's position, or the lowest fret that it uses."""
        return self.line.position or min((note.fret for note in self.line.notes if note.fret), default=1)


@dataclass(frozen=True, slots=True, repr=False)
class FilePhrase(Phrase):
    """A phrase from a file of music; `said` is what the file held that the line could not keep, bar by bar."""

    said: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, repr=False)
class PhraseChorus(Drill):
    """Calls and answers over some changes, each told by what its notes do."""

    statements: tuple[Statement, ...] = ()

    def told(self) -> Words:
        """A bullet for each call and answer: its bars, what it does, where it ends."""
        return Words(chorus_words.statements_list(self.line, self.statements))
