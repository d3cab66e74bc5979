"""What a lesson's cells say: the teacher's names in one import, and rich displays for charts, harmony and lines.

`from workbook.kit import *` in a notebook brings every name below and teaches the notebook to show a chart as a grid
of bars, a harmony as a table and a line as staff and TAB. The values themselves know nothing of drawing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from theorylib import (
    STANDARD,
    Chart,
    Chord,
    Line,
    Pitch,
    Scale,
    Tuning,
    continuous_arpeggio,
    finger,
    harmony,
    names_of,
    substitutes,
    tempo_ladder,
    uses_of,
)
from theorylib.changes.charts import as_chart
from theorylib.changes.form import form_of, shaped
from theorylib.errors import NeckError, as_text
from theorylib.levels import Level
from theorylib.limits import whole
from theorylib.names.arpeggios import Arpeggio, as_arpeggio
from theorylib.names.scales import as_scale
from theorylib.necks.grip_leading import led_grips
from theorylib.necks.grips import grips
from theorylib.necks.shapes import Shape, near_fret, target_shapes
from theorylib.necks.tunings import as_tuning
from theorylib.playing.joins import joins
from theorylib.playing.lines import as_line
from theorylib.playing.values import Rhythm
from theorylib.practice.approaches import approach_targets
from theorylib.practice.changes import aim_at_changes
from theorylib.practice.drills import Direction
from theorylib.practice.idioms import Style
from theorylib.practice.landings import landed, landings, steady_scale
from theorylib.practice.outline import Outline, outline, read_outline
from theorylib.practice.pace import fast_value
from theorylib.practice.phrases import call_and_answer, motif, play_and_rest
from theorylib.practice.phrasing import phrases_over, with_joins
from theorylib.practice.sequences import sequence, with_legato, with_strokes
from theorylib.practice.strumming import strummed
from theorylib.practice.subdivisions import bursts, displaced_accents, moving_rest, subdivision_ladder
from theorylib.practice.superimposed import superimposed_arpeggio
from theorylib.practice.tapping import tapped_arpeggio
from theorylib.practice.through import against_substitute, continuous_scale, guide_tone_line
from theorylib.practice.touch import bend_drill, held_vibrato, slide_drill, with_swell
from theorylib.practice.variations import SEMITONES

from .cells.backings import backing
from .cells.completing import complete_choices
from .cells.displays import register_displays
from .cells.drill import Drill, Phrase, PhraseChorus
from .cells.magic import in_folder, made
from .cells.mistakes import tell_mistakes
from .cells.necks import areas, colour_necks, necks
from .cells.phrases import phrase_from, phrases
from .cells.telling import Words, bends, ear_training, moves, other_colours, target_steps, triads_over
from .draw.chart import chart_picture
from .draw.grip_sheet import grips_picture
from .draw.neck import plot_neck
from .draw.outline_sheet import outline_picture
from .draw.score import score
from .draw.tension_map import tension_map, tension_picture
from .guide.pages import guided
from .lesson.areas import area_scale
from .lesson.colours import colour_of, triads_of
from .lesson.derived import (
    bend_area,
    best_position,
    change_area,
    lesson_chart,
    pentatonic,
    phrase_position,
    phrase_style,
    shape_position,
    target_area,
    target_degrees,
    two_chords,
)
from .lesson.here import lesson_here
from .lesson.lesson import Lesson
from .lesson.lines import accents_across, reading_line
from .lesson.phrase_lines import from_bar, placed_phrase
from .lesson.refreshing import refreshed_file
from .media.shown import picture
from .mimes import OUTLINE_MIME
from .play.player import listen
from .reader import for_reader
from .recorded.recordings import hear
from .recorded.takes import mirror, take

if TYPE_CHECKING:
    from .draw.pictures import Picture
    from .widgets.confirmer import Confirmer
    from .widgets.explorer import Explorer


def arpeggio_drill(
    chart: Chart | str,
    position: int | None = 5,
    *,
    per_chord: int = 8,
    start: Pitch | str | None = None,
    direction: Direction = "up",
    tuning: Tuning | str = STANDARD,
    passes: int = 1,
) -> Drill:
    """The usual drill of a lesson: the arpeggios through a chart without a stop, fingered in a position.

    >>> arpeggio_drill("| Am7 | D7 |", 5, per_chord=4)
    Continuous arpeggio, position 5 over 2 chords, 8 notes
    """
    neck = as_tuning(tuning)
    line = continuous_arpeggio(as_chart(chart), per_chord, position, start, direction, tuning=neck, passes=passes)
    return Drill(finger(line, neck, position))


def arpeggio(name: Chord | Arpeggio | str) -> Chord | Arpeggio:
    """An arpeggio by name, where a chord symbol has none: “Cb minor 6 pentatonic”.

    >>> str(arpeggio("Cb minor 6 pentatonic")), " ".join(arpeggio("Cb minor 6 pentatonic").names)
    ('Cb minor 6 pentatonic', 'Cb Ebb Fb Gb Ab')
    """
    return as_arpeggio(name)


def as_drill(line: Line | str) -> Drill:
    """To make a drill of any line: fingered in its own position, or with a free hand.

    >>> as_drill(bursts("A minor pentatonic", 5, bars=1))
    Bursts of 5 over 1 chords, 9 notes
    """
    line = as_line(line)
    return Drill(finger(line, line.tuning, line.position))


def phrase(text: str, over: Chart | str | None = None, *, position: int | str | None = None,
           tuning: Tuning | str = STANDARD, rhythm: Rhythm | Fraction | str = "even", up: int = 0,
           title: str = "") -> Phrase:
    """To write down a phrase of one's own, as typed TAB or a line of words, over some changes.

    It may begin at a bar of them (`over=from_bar(chart, 5)`). Strings, frets and fingers that the text gives are kept,
    the others found in `position` (None: with a free hand). The text says its own tuning in its heading (`tuning: drop
    D`) or by its rows; `tuning` is the neck to play it on. `up` moves it by half steps, as a moved lesson does. Without
    a row of note values `rhythm` gives every note a length ("e"), or is "spacing" where the columns are time. Raises
    LineError, which shows what cannot be read.

    >>> phrase("e A3 C4 E4 G4 h A4", over="| Am7 | D7 |")
    Phrase over 1 chords, 5 notes
    """
    whole(up, SEMITONES, "number of half steps")
    line = placed_phrase(text, None if over is None else as_chart(over), as_tuning(tuning), up=up, rhythm=rhythm)
    called = as_text(title, "title", "a text") or line.title or "Phrase"
    return Phrase(finger(replace(line, title=called), line.tuning, line.position if position is None else position))


def confirm(track: Path | str) -> Confirmer:
    """To correct by ear what was heard of a recording: a panel that plays it with a click.

    What is saved is kept beside the recording.
    """
    from .widgets.confirmer import Confirmer

    return Confirmer(track)


def explore(changes: Chart | str, *, key: Scale | str | None = None, tuning: Tuning | str = STANDARD,
            position: int = 5) -> Explorer:
    """To look for ideas by mouse and ear: what can be laid over each chord, to take along.

    Where no kernel runs its cell shows a plain page of what is set. `position` 0 shows the whole neck. Raises
    ChartError for changes that cannot be read.

    >>> explore("| Gm7 | C9 |").chart["events"][1]["chord"]
    'C9'
    """
    from .widgets.explorer import Explorer

    neck = as_tuning(tuning)
    whole(position, (0, neck.last_fret), "position")
    home = "" if key is None else str(as_scale(key))
    return Explorer(changes, home, neck.name, position=position)


def play_along(chart: Chart | str, level: Level = "intermediate", *, tuning: Tuning | str = STANDARD,
               near: int | None = None) -> Picture:
    """To play the chords of a chart: a grip for each, once, led from one to the next.

    Beginners get each chord's first grip, or a simpler chord's; `near` holds the hand about a fret.

    >>> play_along("| Am7 | D9 |", near=5)
    Am7: 575555
    D9: x54555
    """
    sounding = [event.chord for event in as_chart(chart).events if event.chord.root is not None]
    led = {one.chord: one.grip for one in led_grips(sounding, tuning, level, near=near)}
    return grips_picture(list(led.values()), tuning)


def rhythm_part(chart: Chart | str, level: Level = "intermediate", *, tuning: Tuning | str = STANDARD,
                near: int | None = None, passes: int = 1) -> Drill:
    """To accompany before one solos: the grips of `play_along` in the strokes of the feel.

    Its score shows the strokes, `score(slashes=False)` every string.

    >>> rhythm_part("| Am7 | D9 |", "beginner")
    Rhythm part, straight 8 over 2 chords, 36 notes
    """
    return Drill(strummed(as_chart(chart), level, tuning=tuning, near=near, passes=passes))


def phrase_chorus(chart: Chart | str, style: Style = "blues", level: Level = "intermediate", position: int = 5, *,
                  tuning: Tuning | str = STANDARD, seed: int = 1) -> PhraseChorus:
    """To hear how phrases answer each other: calls and answers of a style, fitted to the chords.

    Another `seed` gives other shapes. `style` is groove, blues, minor blues, rock or modern. Its `told()` says what
    each does.

    >>> phrase_chorus("| Am7 | D7 |", "rock", "beginner").told()
    - **Bars 1–2** ask: one figure comes twice in the same rhythm. The last note is the 5 of D7.
    - **Bars 3–4** answer. The last note is the 1 of D7.
    - **Bar 5** comes home. The last note is the ♭3 of Am7.
    """
    neck = as_tuning(tuning)
    chorus = phrases_over(as_chart(chart), style, level, position, tuning=neck, seed=seed)
    return PhraseChorus(with_joins(finger(chorus.line, neck, position), chorus.joined), chorus.statements)


def outline_sheet(plan: Outline | str, chart: Chart | str) -> Picture:
    """To lay the plan of a solo on the music stand: one sheet, from the plan or its text.

    Raises OutlineError with a line that is none.

    >>> outline_sheet(outline("| Am7 | D9 |", bars=8), "| Am7 | D9 |").alt[:60]
    'Outline of a solo over the changes, 9 bars. bars 1 to 4, que'
    """
    text = str(plan) if isinstance(plan, Outline) else plan
    return replace(outline_picture(read_outline(text, chart)), extra={OUTLINE_MIME: text.strip()})


def targets(chord: Chord | str, degrees: Iterable[str] | str, near: int, tuning: Tuning | str = STANDARD) -> Shape:
    """To show target notes where one plays: the shape of some degrees nearest to a fret.

    Degrees are written as “1 9 6”.

    >>> [(place.string, place.fret, place.degree) for place in targets("Am7", "1 b3", near=5).places]
    [(5, 3, 'b3'), (6, 5, '1')]
    """
    return near_fret(target_shapes(chord, degrees, tuning), near)


def refresh(path: str | Path | None = None, *, every: bool = False) -> Words:
    """After a change of the lesson's choices: write what the kit wrote anew, from them.

    The choices are taken as they are saved. Without a `path` it is the notebook of the cell, where Jupyter tells it.
    What you wrote or changed stays, unless `every` says otherwise; the lesson before is then kept beside. Afterwards
    reload the notebook from the disk, run all its cells and save it. Raises LessonError where nothing tells the
    notebook, or its choices cannot be read.

    >>> import tempfile, pathlib, workbook.lesson.writing as writing, workbook.lesson.chosen as chosen
    >>> from workbook.lesson.lesson import Lesson
    >>> file = pathlib.Path(tempfile.mkdtemp()) / "dawn.ipynb"
    >>> lesson = Lesson.of(writing.new_lesson(Chart.parse("| Am7 | D7 |"), chosen.Choices("Dawn")))
    >>> _ = file.write_text(lesson.text.replace("tempo = 100", "tempo = 80"), encoding="utf-8")
    >>> refresh(file).markdown.splitlines()[0]
    '- written anew: title, aims, week-words, metadata'
    """
    from IPython.core.getipython import get_ipython

    shell = get_ipython()
    lesson = Lesson.read(Path(path)) if path is not None else lesson_here(shell.user_ns if shell else {})
    return Words(refreshed_file(lesson, every=every))


def guide(words: str = "") -> Words:
    """To find what one does not know by name: pages of the guide and names of the kit.

    Without words it lists all pages.

    >>> guide("tempo ladder").markdown.splitlines()[-1].partition(": ")[0]
    '- `tempo_ladder(target, …)`'
    """
    return guided(as_text(words, "row of words", "such as “bends”", NeckError), _names())


def _names() -> dict[str, object]:
    return {name: globals()[name] for name in __all__}


__all__ = [
    "Chart", "Chord", "Drill", "Fraction", "Line", "STANDARD", "Scale", "Tuning", "Words", "accents_across",
    "against_substitute", "aim_at_changes", "approach_targets", "area_scale", "areas", "arpeggio", "arpeggio_drill",
    "as_drill", "backing", "bend_area", "bend_drill", "bends", "best_position", "bursts", "call_and_answer",
    "change_area", "chart_picture", "colour_necks", "colour_of", "confirm", "continuous_arpeggio", "continuous_scale",
    "displaced_accents", "ear_training", "explore", "fast_value", "finger", "for_reader", "form_of", "from_bar",
    "grips", "guide", "guide_tone_line", "harmony", "hear", "held_vibrato", "in_folder", "joins", "landed", "landings",
    "lesson_chart", "listen", "made", "mirror", "motif", "moves", "moving_rest", "names_of", "necks", "other_colours",
    "outline", "outline_sheet", "pentatonic", "phrase", "phrase_chorus", "phrase_from", "phrase_position",
    "phrase_style", "phrases", "picture", "play_along", "play_and_rest", "plot_neck", "reading_line", "refresh",
    "rhythm_part", "score", "sequence", "shape_position", "shaped", "slide_drill", "steady_scale",
    "subdivision_ladder", "substitutes", "superimposed_arpeggio", "take", "tapped_arpeggio", "target_area",
    "target_degrees", "target_shapes", "target_steps", "targets", "tempo_ladder", "tension_map", "tension_picture",
    "triads_of", "triads_over", "two_chords", "uses_of", "with_legato", "with_strokes", "with_swell",
]

register_displays()
tell_mistakes(_names())
complete_choices()
