"""An audio player for a notebook cell: a chart's backing, a line, or the line over its backing."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from theorylib.changes.charts import Chart, as_chart
from theorylib.errors import one_of
from theorylib.limits import TEMPO, number_in
from theorylib.playing.lines import Line

from ..mimes import SOUND_MIME
from .sound import FORMATS, AudioForm, SoundError

if TYPE_CHECKING:
    import numpy as np

    from .parts import Backing

_SHOWN: AudioForm = "mp3"  # the form in which a cell holds its sound
_CARE = "Keep the volume moderate."


@dataclass(frozen=True, slots=True, eq=False)
class Player:
    """Audio with the words that stand beside its player; `renderer` says what made the sound."""

    audio: np.ndarray
    words: str
    renderer: str

    @property
    def seconds(self) -> float:
        return len(self.audio) / 48_000

    def encoded(self, form: AudioForm = "mp3") -> bytes:
        """The audio as a file of a form: wav, flac, ogg or mp3. Raises SoundError."""
        from .sound import encoded

        return encoded(self.audio, form)

    def save(self, path: Path | str) -> Path:
        """Write the audio to a file, whole or not at all, in the form that its ending names (.wav, .flac, .ogg, .mp3).

        Raises SoundError for another ending.
        """
        from ..files import write_whole

        file = Path(path)
        ending = one_of(file.suffix.lower().removeprefix("."), FORMATS, "ending of an audio file", SoundError)
        write_whole(file, self.encoded(ending))
        return file

    def _repr_mimebundle_(self, include: object = None, exclude: object = None) -> Any:
        from html import escape

        source = f"data:{FORMATS[_SHOWN][2]};base64,{base64.b64encode(self.encoded()).decode()}"
        return {"text/html": f"<figure><figcaption>{escape(self.words)} {_CARE}</figcaption>"
                             f'<audio controls preload="metadata" src="{source}" '
                             f'aria-label="{escape(self.words)}"></audio></figure>',
                "text/plain": repr(self), SOUND_MIME: {"seconds": round(self.seconds, 3)}}

    def __repr__(self) -> str:
        return f"{self.words} ({self.seconds:.0f} s, {self.renderer} voices)"


def listen(what: Chart | Line | str, *, over_backing: bool = True, passes: int | None = None, click: bool = False,
           tempo: int | None = None, soundfont: Path | str | None = None) -> Player:
    """To hear changes with a band, or a line over it: a player in the cell.

    A line sounds with its bends and vibrato, over its backing unless told not to. `passes` through the chart: two
    without it, or as many as the line lasts. `tempo` in quarter notes a minute replaces the chart's. `click` goes on
    after the count-in. The player's `save("groove.wav")` writes a file. Raises BackingError or SoundError.

    >>> listen("| Gm7 | C9 |", passes=1).__class__.__name__
    'Player'
    """
    from dataclasses import replace

    from .backing import backing
    from .band import Band

    line = what if isinstance(what, Line) else None
    if tempo is not None and line is not None:
        line = line.at_tempo(tempo)
    chart = line.chart if line is not None else as_chart(what)  # type: ignore[arg-type]
    if tempo is not None:
        chart = replace(chart, tempo=number_in(tempo, TEMPO, "tempo in quarter notes a minute"))
    if passes is None:
        passes = 2 if line is None else max(1, -int(-line.length_beats // chart.length_beats))
    band = Band(ending=line is None)
    track = backing(chart, band if over_backing else replace(band, parts=()), passes=passes, click=click)
    lines, words = ((), chart.title or "Backing track") if line is None else ((line,), line.title or "Line")
    return player_of(track, lines, words, soundfont)


def player_of(track: Backing, lines: Sequence[Line], words: str, soundfont: Path | str | None = None) -> Player:
    """A player for a track with lines over it; `words` say what it plays. Raises SoundError."""
    from .sound import mixed, renderer_name

    return Player(mixed(track, lines, soundfont=soundfont), words, renderer_name(soundfont))
