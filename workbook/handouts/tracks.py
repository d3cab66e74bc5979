"""The backing tracks of a lesson as files of its pack: MIDI always, audio and stems where they are asked for.

A lesson says in a cell (`backing(...)`) who plays and how; one that says nothing gets the usual band over its changes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from theorylib.changes.charts import Chart
from theorylib.errors import VampError

from ..lesson.lesson import Lesson
from ..mimes import BACKING_MIME
from ..play.backing import BASS, CLICK, COMP, DRUMS, STEADY, Backing, backing, passes_in
from ..play.backing_midi import backing_midi
from ..play.band import USUAL, Band
from ..play.kept import read_kept
from ..play.ladder import Ladder
from ..play.sound_cache import kept

STEMS = (DRUMS, BASS, COMP, CLICK)
MINUTES = 5.0
SOUND_WORDS = ("minutes", "stems", "click", "soundfont")  # fields of Sound that are options of a command as well


@dataclass(frozen=True, slots=True)
class Sound:
    """What to render: `form` a key of play.sound.FORMATS (empty: MIDI only).

    `minutes` is about how long (None: the lesson's choruses, else MINUTES). `stems` adds a file for each part; `ladder`
    raises the tempo on the way; `click` goes on after the count-in; `soundfont` names the user's own SF2 file; what
    `band` says stands in the place of what the lesson says.
    """

    form: str = ""
    minutes: float | None = None
    stems: bool = False
    ladder: Ladder = STEADY
    click: bool = False
    soundfont: Path | None = None
    band: Band = USUAL


SILENT = Sound()


def backings_of(lesson: Lesson) -> tuple[tuple[Chart, Band], ...]:
    """The changes and the band of each backing that the lesson's cells show; raises with the cell of a false one."""
    return tuple(_backings(lesson))


def _backings(lesson: Lesson) -> Iterator[tuple[Chart, Band]]:
    for output in lesson.outputs:
        if BACKING_MIME in output.data:
            try:
                yield read_kept(output.text(BACKING_MIME))
            except VampError as error:
                raise error.at(", ".join(filter(None, (f"cell {output.cell}", error.where)))) from error


def band_of_lesson(lesson: Lesson) -> Band:
    """The band of the lesson's first backing, the usual one where it has none."""
    found = backings_of(lesson)
    return found[0][1] if found else USUAL


def chart_of(lesson: Lesson) -> Chart | None:
    """The first chart that the lesson shows, else that of its first line."""
    charts = lesson.charts
    return charts[0][1] if charts else next((line.chart for _, line in lesson.lines), None)


def _asked(lesson: Lesson) -> tuple[tuple[Chart, Band], ...]:
    chart = chart_of(lesson)
    return backings_of(lesson) or (((chart, USUAL),) if chart is not None and chart.events else ())


def track_files(lesson: Lesson, wanted: Sound) -> dict[str, bytes]:
    """File name: bytes, `backing`, `backing-2` …; nothing for a lesson without a chart.

    Raises BackingError, StyleError or SoundError.
    """
    files: dict[str, bytes] = {}
    for number, (chart, band) in enumerate(_asked(lesson), 1):
        name = "backing" if number == 1 else f"backing-{number}"
        band = wanted.band.over(band)
        minutes = MINUTES if wanted.minutes is None and band.choruses is None else wanted.minutes
        passes = None if minutes is None else passes_in(chart, minutes, wanted.ladder)
        track = backing(chart, band, passes=passes, ladder=wanted.ladder, click=wanted.click)
        files[f"{name}.mid"] = backing_midi(track, title=lesson.title)
        files |= _audio_files(name, track, wanted) if wanted.form else {}
    return files


def _audio_files(name: str, track: Backing, wanted: Sound) -> dict[str, bytes]:
    """The track's files, encoded once for all students and builds that it sounds the same for."""
    made = (kept(f"a track {wanted.form} {wanted.stems} {track.heard}", lambda: _encoded(track, wanted))
            if wanted.soundfont is None else _encoded(track, wanted))
    return {f"{name}-{part.lower()}.{wanted.form}" if part else f"{name}.{wanted.form}": data
            for part, data in made.items()}


def _encoded(track: Backing, wanted: Sound) -> dict[str, bytes]:
    """The mix by the name "", and with stems each part by its own."""
    from ..play.sound import encoded, mixed, stems

    played = [part for part in STEMS if track.of(part)]
    made = stems(track, played, wanted.soundfont) if wanted.stems else {"": mixed(track, soundfont=wanted.soundfont)}
    return {part: encoded(audio, wanted.form) for part, audio in made.items()}
