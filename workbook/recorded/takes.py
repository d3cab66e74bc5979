"""A take held against a lesson's line, as a cell shows it and as the command writes it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from theorylib.changes.charts import Chart, as_chart
from theorylib.errors import as_text
from theorylib.limits import TEMPO, number_in
from theorylib.playing.lines import Line, as_line

if TYPE_CHECKING:
    from ..draw.pictures import Picture
    from ..listen.expected import Expected, ExpectedNote
    from ..listen.findings import Finding
    from ..listen.mirror import Mirror
    from ..listen.take import NoteHeard, Take

_CARE = "Warm up, rest, and stop if anything hurts; keep the volume moderate."
_LEGEND = ("Under the notes: ✕ another note, ○ missing, ◀ early, ▶ late, ▼ flat, ▲ sharp.")
_PAGE = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>{title}</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'">
<style>body {{ font: 1.15rem/1.5 sans-serif; max-width: 60rem; margin: 1.5rem auto; padding: 0 1rem; color: #1a1a1a; }}
li {{ margin: .5rem 0; }} figure {{ margin: 1.5rem 0; }} img {{ max-width: 100%; height: auto; }}</style></head>
<body><main><h1>{title}</h1><ul>{body}</ul>{shown}<p>{legend}</p><p>{care}</p></main></body></html>
"""


def expected_of(line: Line, tempo: float | None = None) -> Expected:
    """What a line sounds like in seconds, swung and with its bends, at `tempo` (else the chart's)."""
    from ..listen.expected import Expected, ExpectedNote
    from ..play.asked import asked_of

    beats_a_minute = float(tempo or line.chart.tempo)
    beat = 60 / beats_a_minute
    notes = []
    for one in asked_of(line):
        sound, start = one.sound, float(one.sound.start_beats) * beat
        path = tuple((float(at - sound.start_beats) * beat, float(cents)) for at, cents in sound.path)
        wave = None if sound.vibrato is None else float(sound.vibrato.start_beats - sound.start_beats) * beat
        lasts = float(sound.end_beats - sound.start_beats) * beat
        notes.append(ExpectedNote(one.index, sound.midi, start, lasts, one.bar, float(one.beat), path, wave, one.struck,
                                  one.pitched))
    return Expected(tuple(notes), beat, float(line.chart.bar_beats), line.title)


def line_of(lesson: Any, number: int | None = None) -> Line:
    """Line `number` (from 1) of a lesson; without one the first that is no rhythm part."""
    from theorylib.errors import LineError

    lines = [line for _, line in lesson.lines] if lesson is not None else []
    if number is None:
        number = next((place for place, line in enumerate(lines, 1) if not line.is_rhythm_part), 1)
    if not 1 <= number <= len(lines):
        names = "; ".join(f"{place}: {line.title or 'without a title'}" for place, line in enumerate(lines, 1))
        whose = lesson.title if lesson is not None else "no lesson"
        raise LineError(f"{whose} has no line {number}", value=number,
                        expected=names or "a lesson that was run and holds a drill")
    return lines[number - 1]


@dataclass(frozen=True, slots=True, eq=False)
class TakeReport:
    """A take held against a line: `.words()`, `.score()`, `.timing()`, `.bends()`, `.json()`, `.page()`, `.pdf()`."""

    take: Take
    line: Line
    lesson: str = ""
    student: str = ""

    @property
    def findings(self) -> tuple[Finding, ...]:
        from ..listen.findings import findings

        return findings(self.take)

    def words(self) -> list[str]:
        """What went well, then three findings at most, then what could not be judged: a line each."""
        from ..listen.findings import went_well

        return [f"Well done: {went_well(self.take)}", *map(_said, self.findings),
                *(f"Not judged: {one}" for one in self.take.unjudged)]

    def score(self) -> Picture:
        """The engraved line with a mark under each note that asks for one."""
        from ..draw.take_picture import SIGNS, marked_score

        marks = {note.expected.index: kinds for note in self.take.known if (kinds := tuple(self._marks(note)))}
        counted = {kind: sum(kind in kinds for kinds in marks.values()) for kind in SIGNS}
        said = ", ".join(f"{count} {kind}" for kind, count in counted.items() if count) or "nothing to mark"
        return marked_score(self.line, marks, f"{self.line.title or 'The line'}, as it was played: {said}.")

    def timing(self) -> Picture:
        from ..draw.take_picture import TimedNote, timing_picture
        from ..listen.measures import measured
        from ..listen.take import OK
        from ..listen.thresholds import THRESHOLDS

        bar_beats = self.take.expected.bar_beats
        notes = [TimedNote(one.expected.bar + one.expected.beat / bar_beats, one.early_late_ms,
                           one.expected.beat % 1 < 0.02, one.verdict == OK) for one in self.take.notes]
        uneven, whole = THRESHOLDS["uneven"], measured(self.take).whole
        return timing_picture(notes, (uneven.just_noticed, uneven.worth_saying),
                              f"Timing of {whole.count} notes: they lie {whole.deviation_ms:.0f} ms around their mean.")

    def bends(self) -> Picture | None:
        """The curves of bent and shaken notes; None where the line has none."""
        from ..draw.take_picture import BentNote, bends_picture
        from ..listen.pitch_path import STEP_SECONDS

        moving = [one for one in self.take.notes if one.path is not None][:12]
        if not moving:
            return None
        notes = [BentNote(f"bar {one.expected.bar + 1}, beat {one.expected.beat + 1:g}", STEP_SECONDS,
                          [float(cents) for cents in one.path.cents], _written(one.expected))
                 for one in moving if one.path is not None]
        return bends_picture(notes, f"The pitch of {len(notes)} bent or shaken notes.")

    def pictures(self) -> list[Picture]:
        return [one for one in (self.score(), self.timing(), self.bends()) if one is not None]

    def json(self) -> str:
        from ..listen.take_text import as_json

        return as_json(self.take, self.line, self.words(), {"lesson": self.lesson, "student": self.student})

    def page(self) -> str:
        """The report as one HTML file that fetches nothing."""
        from html import escape

        body = "".join(f"<li>{escape(one)}</li>" for one in self.words())
        shown = "".join(one.image_tag() for one in self.pictures())
        return _PAGE.format(title=escape(self._title()), body=body, shown=shown, care=_CARE, legend=escape(_LEGEND))

    def pdf(self) -> bytes:
        """The report as a tagged PDF."""
        from ..handouts.pdf import handout_pdf

        return handout_pdf(self._notebook())

    def _notebook(self) -> dict[str, Any]:
        from ..lesson.cells import as_markdown, code_cell, text_cell

        said = "\n".join(f"- {as_markdown(one)}" for one in self.words())
        cells = [text_cell("words", f"# {as_markdown(self._title())}\n\n{said}\n\n{_LEGEND}\n\n{_CARE}")]
        for number, picture in enumerate(self.pictures()):
            data, about = picture._repr_mimebundle_()
            shown = {"output_type": "display_data", "data": data, "metadata": about}
            cells.append({**code_cell(f"picture-{number}", ""), "outputs": [shown]})
        return {"cells": cells, "metadata": {"vampbook": {"title": self._title()}}, "nbformat": 4, "nbformat_minor": 5}

    def _title(self) -> str:
        return " · ".join(filter(None, (self.lesson or "A take", self.line.title, self.student)))

    @staticmethod
    def _marks(note: NoteHeard) -> Any:
        from ..listen.take import OK
        from ..listen.thresholds import THRESHOLDS

        late, most = note.early_late_ms, THRESHOLDS["uneven"].worth_saying
        if note.verdict != OK:
            yield note.verdict
        elif late is not None and abs(late) > most:
            yield "late" if late > 0 else "early"
        off = max((bend.off_cents for bend in note.bends), key=abs, default=0.0)
        if abs(off) > THRESHOLDS["bend"].worth_saying:
            yield "sharp" if off > 0 else "flat"

    def __eq__(self, other: object) -> bool:
        return isinstance(other, TakeReport) and self.json() == other.json()

    def __hash__(self) -> int:
        return hash(self.json())

    def __str__(self) -> str:
        return "\n".join(self.words())

    def __repr__(self) -> str:
        return str(self)

    def _repr_mimebundle_(self, include: object = None, exclude: object = None) -> Any:
        data, about = self.score()._repr_mimebundle_()
        return {**data, "text/plain": str(self)}, about


def take(recording: Path | str, *, lesson: Any = None, line: Line | str | int | None = None, tempo: float | None = None,
         first_beat: float | None = None, latency_ms: float = 0.0, track: Path | str | None = None,
         student: str = "") -> TakeReport:
    """To hear how a student did: a recording against its line, with three things to do.

    Notes early or late, wrong or missing, bends and vibrato are told. `line` is a Line, or the number of one in
    `lesson` (a path or a Lesson); without one it is the first that is no rhythm part. `tempo` is what it was played at,
    if not the chart's. `first_beat` is the second of the take at which the line's first beat lies, `latency_ms` how
    late the device records (`latency_of`), `track` the backing that is heard in the take or was recorded along with it:
    without one of these only differences between notes are judged. In a track the line begins after a bar of count-in,
    as in those that we make, unless `first_beat` says where. Raises ListenError or LineError.

    >>> import tempfile, pathlib
    >>> file = pathlib.Path(tempfile.mkdtemp()) / "monday.wav"
    >>> line = arpeggio_drill("| Am7 |", 5, per_chord=4).line
    >>> _ = listen(line, over_backing=False).save(file)
    >>> str(take(file, line=line)).splitlines()[0][:42]
    'Well done: All 4 notes are there and right'
    """
    from ..lesson.lesson import as_lesson
    from ..listen.recording import EXPECTED, ListenError, read_recording
    from ..listen.take import hear_take
    from ..listen.tracks import backing_in

    name = str(recording) if isinstance(recording, Path) else as_text(recording, "take", EXPECTED, ListenError)
    _check(tempo, first_beat, latency_ms)
    of = as_lesson(Path(lesson) if isinstance(lesson, str) else lesson) if lesson is not None else None
    named = as_text(student, "student's name", "a name, or nothing")
    held = line_of(of, line) if line is None or isinstance(line, int) else as_line(line)
    played, bleeds = read_recording(name), None
    if track is not None:
        found = backing_in(played, read_recording(track))
        bleeds = found is not None
        counted_in = float(held.chart.bar_beats) * 60 / float(tempo or held.chart.tempo)
        first_beat = None if found is None else found + (counted_in if first_beat is None else first_beat)
    heard = hear_take(played, expected_of(held, tempo), first_beat_seconds=first_beat, latency_ms=latency_ms,
                      track_in_it=bleeds)
    return TakeReport(heard, held, of.title if of is not None else "", named)


def _check(tempo: object, first_beat: object, latency_ms: object) -> None:
    if tempo is not None:
        number_in(tempo, TEMPO, "tempo in quarter notes a minute")
    if first_beat is not None:
        number_in(first_beat, (-900, 3600), "second at which the line begins")
    number_in(latency_ms, (-900, 900), "latency in ms")


def mirror(recording: Path | str, over: Chart | str, *, first_beat: float | None = None, tempo: float | None = None,
           track: Path | str | None = None, latency_ms: float = 0.0) -> Mirror:
    """To see what one plays when one plays freely: degrees over chords, space, range, what returns.

    `.words()` say it; nothing is judged. `first_beat` is the second of the take at which the changes begin, or of the
    track where `track` is given (there a bar of count-in is taken without it). It is a mirror and no mark. Raises
    ListenError.

    >>> import tempfile, pathlib
    >>> file = pathlib.Path(tempfile.mkdtemp()) / "free.wav"
    >>> _ = listen(Line.parse("e A3 C4 E4 G4 h A4"), over_backing=False).save(file)
    >>> mirror(file, "| Am7 |", first_beat=2.4).words()[1]
    'Over Am7: 1 ×2, b3 ×1, 5 ×1, b7 ×1.'
    """
    from ..listen.mirror import mirror_of
    from ..listen.recording import EXPECTED, ListenError, read_recording
    from ..listen.tracks import backing_in

    name = str(recording) if isinstance(recording, Path) else as_text(recording, "take", EXPECTED, ListenError)
    _check(tempo, first_beat, latency_ms)
    chart, played = as_chart(over), read_recording(name)
    if track is not None:
        found = backing_in(played, read_recording(track))
        counted_in = float(chart.bar_beats) * 60 / float(tempo or chart.tempo)
        if found is None:
            raise ListenError(f"{Path(track).name} is not heard in {played.name}", value=str(track),
                              expected="the second of the first beat instead (first_beat)")
        first_beat = found + (counted_in if first_beat is None else first_beat)
    if first_beat is None:
        raise ListenError("nobody knows where the changes begin in the take", value=name,
                          expected="the second of the first beat (first_beat), or the track that is heard in it")
    return mirror_of(played, chart, first_beat + latency_ms / 1000, None if tempo is None else float(tempo))


def latency_in(claps: Path | str, lesson: Path | str, line: int | None = None, tempo: float | None = None) -> float:
    """How late a device records, in ms: from claps on the click of a line's tempo, recorded from the first click on."""
    from ..lesson.lesson import Lesson
    from ..listen.recording import read_recording
    from ..listen.tracks import latency_of

    held = line_of(Lesson.read(Path(lesson)), line)
    return latency_of(read_recording(claps), float(tempo or held.chart.tempo))[0]


def _said(one: Finding) -> str:
    where = f"Bar {one.bar}: " if one.bar is not None else ""
    return f"{where}{one.words}. {one.to_do}, at ♩ = {one.tempo}."


def _written(note: ExpectedNote) -> list[tuple[float, float]]:
    last = note.path[-1][1] if note.path else 0.0
    return [(0.0, note.cents_at(0.0)), *note.path, (note.length_seconds, last)]
