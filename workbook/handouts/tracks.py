"""The backing track of a lesson as files of its pack: MIDI always, audio and stems where they are asked for."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from theorylib.changes.charts import Chart

from ..lesson.lesson import Lesson
from ..play.backing import BASS, CLICK, COMP, DRUMS, STEADY, backing
from ..play.backing_midi import backing_midi
from ..play.ladder import Ladder

STEMS = (DRUMS, BASS, COMP, CLICK)
MINUTES = 5.0
SOUND_WORDS = ("minutes", "stems", "click", "soundfont")  # fields of Sound that are options of a command as well


@dataclass(frozen=True, slots=True)
class Sound:
    """What to render: `form` a key of play.sound.FORMATS (empty: MIDI only), about `minutes` long.

    `stems` adds a file for each part; `ladder` raises the tempo on the way; `click` goes on after the count-in;
    `soundfont` names the user's own SF2 file.
    """

    form: str = ""
    minutes: float = MINUTES
    stems: bool = False
    ladder: Ladder = STEADY
    click: bool = False
    soundfont: Path | None = None


SILENT = Sound()


def chart_of(lesson: Lesson) -> Chart | None:
    """The first chart that the lesson shows, else that of its first line."""
    charts = lesson.charts
    return charts[0][1] if charts else next((line.chart for _, line in lesson.lines), None)


def track_files(lesson: Lesson, wanted: Sound) -> dict[str, bytes]:
    """File name: bytes. Nothing for a lesson without a chart; raises BackingError or SoundError."""
    chart = chart_of(lesson)
    if chart is None or not chart.events:
        return {}
    track = backing(chart, minutes=wanted.minutes, ladder=wanted.ladder, click=wanted.click)
    files = {"backing.mid": backing_midi(track, title=lesson.title)}
    if wanted.form:
        from ..play.sound import encoded, mixed, stems

        made = (stems(track, STEMS, wanted.soundfont) if wanted.stems
                else {"": mixed(track, soundfont=wanted.soundfont)})
        for part, audio in made.items():
            name = f"backing-{part.lower()}" if part else "backing"
            files[f"{name}.{wanted.form}"] = encoded(audio, wanted.form)
    return files
