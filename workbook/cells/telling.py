"""What the kit tells in words: tables and bullets from the analysis, shown as Markdown."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from theorylib.changes.charts import Chart
from theorylib.errors import ChordError, NeckError, as_text, one_of, shown
from theorylib.levels import Level
from theorylib.limits import is_whole
from theorylib.names.arpeggios import GROUPS
from theorylib.names.chords import Chord, as_chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import Interval, pretty_accidentals
from theorylib.necks.shapes import BEND_SEMITONES, Bend, Shape, as_shapes, target_moves
from theorylib.necks.tunings import STANDARD, Tuning
from theorylib.practice.ear import ear_tasks
from theorylib.practice.ear_text import EarTask, ear_text
from theorylib.reading.chordscales import counted_degree
from theorylib.reading.harmony import Harmony
from theorylib.reading.substitutes import substitutes, with_new_notes

from ..lesson import prose
from ..lesson.colours import triads_of
from ..lesson.derived import as_harmony
from ..mimes import EAR_MIME

MOST_COLOURS = 400  # more than there are arpeggios over a chord


@dataclass(frozen=True, slots=True)
class Words:
    """A piece of Markdown that a cell shows: prose or a table written from the analysis.

    >>> Words("Lean on the **3rd**.").markdown
    'Lean on the **3rd**.'
    """

    markdown: str

    def _repr_markdown_(self) -> str:
        return self.markdown

    def __repr__(self) -> str:
        return self.markdown


@dataclass(frozen=True, slots=True)
class Ear:
    """Tasks for the ear as a cell shows them: the questions on paper; on the practice page they are heard as well."""

    tasks: tuple[EarTask, ...]

    @property
    def questions(self) -> str:
        """The tasks as a numbered list, with what may be answered."""
        return "\n".join(f"{number}. {task.asks}" + (f" *{' · '.join(task.choices)}*" if task.choices else "")
                         for number, task in enumerate(self.tasks, 1))

    def answers(self) -> Words:
        """What was right, task by task, and what whoever plays the tasks has to play."""
        return Words("\n".join(f"{number}. {task.answer}" + (f" *(play {task.plays})*" if task.plays else "")
                               for number, task in enumerate(self.tasks, 1)))

    def _repr_mimebundle_(self, include: object = None, exclude: object = None) -> dict[str, Any]:
        stored: dict[str, Any] = json.loads(ear_text(self.tasks))
        return {"text/markdown": self.questions, "text/plain": self.questions, EAR_MIME: stored}

    def __repr__(self) -> str:
        return self.questions


def ear_training(chart: Chart | str, level: Level = "intermediate", position: int = 5, *, seed: int = 1,
                 tuning: Tuning | str = STANDARD) -> Ear:
    """To train the ear on the changes that one plays over: tasks, each with its answer.

    Another `seed` gives others of the same kind.

    >>> ear_training("| Gm7 | C9 |", "beginner", 3).tasks[0].asks
    'Two chords in a row. Does the chord change, or does it stay?'
    """
    return Ear(ear_tasks(chart, level, position, seed=seed, tuning=tuning))


def bends(shape: Shape, most: int = 2, *, over: Chord | str | None = None) -> Words:
    """To say what each note of a target shape bends to; `over` a chord with the notes' names.

    >>> bends(targets("Am7", "1 b3", near=5))
    - The ♭3 at string 5 fret 3 bends a tone to the 11 (finger 2).
    - The 1 at string 6 fret 5 bends a tone to the 9 (finger 4).
    >>> bends(targets("Am7", "11", near=5), over="Am7")
    - The 11 (D) at string 5 fret 5 bends a tone to the 5 (finger 2).
    """
    chord = None if over is None else as_chord(over)
    (shape,) = as_shapes([shape])
    if not is_whole(most, 0, BEND_SEMITONES[-1]):
        raise NeckError(f"bends of {shown(most)} semitones", value=most, expected=f"0 to {BEND_SEMITONES[-1]}")
    held = {place for bend in shape.bends for place in bend.held}
    lines = []
    for place in shape.places:
        here = [bend for bend in shape.bends
                if (bend.string, bend.fret) == (place.string, place.fret) and bend.semitones <= most]
        ways = _ways_of(here, chord)
        straight = "stays straight" if place in held else "bends nowhere: leave it straight"
        lines.append(f"- The {_counted(place.degree, chord)}{_name_over(chord, place.degree)} at string "
                     f"{place.string} fret {place.fret} " + (prose.listed(ways) if ways else straight) + ".")
    return Words("\n".join(lines))


def _counted(degree: str, chord: Chord | None) -> str:
    return pretty_accidentals(degree if chord is None or chord.root is None else counted_degree(degree, chord))


def _name_over(chord: Chord | None, degree: str) -> str:
    """“ (A)”: a degree's note over a chord."""
    if chord is None or chord.root is None:
        return ""
    name = chord.root.up(Interval.of_degree(degree))
    return f" ({prose.called(name).replace(' (', ', ').removesuffix(')')})"


def _ways_of(bends: Iterable[Bend], chord: Chord | None) -> list[str]:
    """“bends a tone to the 5 (finger 3), alone and against the 5 on string 2 fret 5”, one for each size."""
    by_size: dict[tuple[int | Fraction, str, int], list[str]] = {}
    for bend in bends:
        beside = [f"against the {_counted(place.degree, chord)} on string {place.string} fret {place.fret}"
                  for place in bend.held]
        goal = _counted(bend.degree, chord)
        by_size.setdefault((bend.semitones, goal, bend.finger), []).append(" and ".join(beside) or "alone")
    return [_bend_words(*size) + (f", {prose.listed(beside)}" if beside != ["alone"] else "")
            for size, beside in by_size.items()]


def _bend_words(semitones: int | Fraction, degree: str, finger: int) -> str:
    size = prose.SIZES[semitones]
    if Fraction(semitones).denominator > 1:
        return f"curls up {size}, no further (finger {finger})"
    return f"bends {size} to the {degree} (finger {finger})"


def target_steps(shape: Shape, following: Chord | str, degrees: Iterable[str] | str,
                 tuning: Tuning | str = STANDARD) -> Words:
    """To go from target to target: how each moves to the nearest of the next chord.

    >>> target_steps(targets("Am7", "1 b3", near=5), "D7", "3 b7")
    - The ♭3 at string 5 fret 3 stays as the ♭7 of D7 at string 5 fret 3.
    - The 1 at string 6 fret 5 moves 3 semitones down to the 3 of D7 at string 6 fret 2.
    """
    chord = as_chord(following)
    lines = []
    for one, two, step in target_moves(shape, chord, degrees, tuning):
        size = f"{abs(step)} semitone{'s' if abs(step) > 1 else ''}"
        way = "stays as" if step == 0 else f"moves {size} {'up' if step > 0 else 'down'} to"
        lines.append(f"- The {pretty_accidentals(one.degree)} at string {one.string} fret {one.fret} {way} the "
                     f"{pretty_accidentals(two.degree)} of {chord.pretty} at string {two.string} fret {two.fret}.")
    return Words("\n".join(lines))


def other_colours(chord: Chord | str, key: Scale | str | None = None, next_chord: Chord | str | None = None, *,
                  scale: Scale | str | None = None, most: int = 6, kinds: str = "triad seventh sixth") -> Words:
    """To choose another arpeggio over a chord: a table of the best, each with new notes.

    `kinds` are the groups of arpeggios to choose from; `scale` is the chord's own, for a chord outside the key.

    >>> other_colours("G7", "C major", "Cmaj7", most=1)
    | Arpeggio | Its notes become | Comes from | How far out | By half step into the next |
    |---|---|---|---|---|
    | **Bø7** | 3 5 ♭7 9 | 7th-degree arpeggio of C major | inside | F–E |
    """
    groups = as_text(kinds, "row of kinds", "such as “triad seventh”", ChordError).split()
    for group in groups:
        one_of(group, dict.fromkeys(GROUPS.values()), "group of arpeggios", ChordError)
    if not is_whole(most, 1, MOST_COLOURS):
        raise ChordError(f"{shown(most)} rows of colours", value=most, expected=f"1 to {MOST_COLOURS}")
    found = [one for one in substitutes(chord, key, next_chord, scale=scale) if GROUPS[one.kind] in groups
             and (one.reach == "inside" or not prose.is_power(as_chord(chord)))]  # two notes bear no colour from afar
    return Words(prose.substitute_table(list(with_new_notes(found))[:most]))


def triads_over(read: Harmony | Chart | str) -> Words:
    """To teach triads over chords: a table of the best for each, and what its notes become.

    >>> triads_over("| Gm7 | C7 |")
    | Chord | Triad on top | Its notes become |
    |---|---|---|
    | Gm7 | **Dm** | 5 ♭7 9 |
    | C7 | **Gm** | 5 ♭7 9 |
    """
    rows = ["| Chord | Triad on top | Its notes become |", "|---|---|---|"]
    rows += [f"| {chord.pretty} | **{one.arpeggio.pretty}** | {' '.join(map(pretty_accidentals, one.degrees))} |"
             for chord, one in triads_of(read)]
    return Words("\n".join(rows))


def moves(read: Harmony | Chart | str) -> Words:
    """To see how voices lead: where each chord's tones go in the next, a bullet a change.

    >>> moves("| Dm7 | G7 |")
    - From Dm7 to G7: D and F stay, A falls a whole step to G and C falls a half step to B.
    - From G7 to Dm7: D and F stay, G falls a whole step to F and B rises a half step to C.
    """
    read = as_harmony(read)
    lines = []
    for index, reading in enumerate(read.chords):
        following = read.chords[(index + 1) % len(read.chords)].chord
        if reading.chord.root is not None and following.root is not None and following != reading.chord:
            lines.append(prose.moves(reading, following))
    return Words("\n".join(f"- {line}" for line in dict.fromkeys(lines) if line))
