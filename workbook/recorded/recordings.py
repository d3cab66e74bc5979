"""A recording heard, as a cell shows it and as the command writes it: its picture, its chart, its numbers."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from theorylib.changes.charts import Chart
from theorylib.changes.meters import Meter
from theorylib.errors import as_text
from theorylib.names.scales import Scale

if TYPE_CHECKING:
    from ..draw.pictures import Picture
    from ..listen.hearing import Heard


@dataclass(frozen=True, slots=True, eq=False)
class HeardRecording:
    """What was heard of a recording: `.chart` is a Chart, `.text()` its text with the unsure bars, `.json()` all of it.

    `.heard` holds the numbers: tempo and rivals, meter, keys, beats, chords with confidence, sections.
    """

    heard: Heard

    @property
    def chart(self) -> Chart:
        return self.heard.chart

    def text(self) -> str:
        """The chart to correct and feed back: `hear(..., chart=text)`."""
        from ..listen.heard_text import chart_text

        return chart_text(self.heard)

    def json(self) -> str:
        from ..listen.heard_text import as_json

        return as_json(self.heard)

    def picture(self) -> Picture:
        """Level with bars and sections, confidence of the chords, likeness of the bars."""
        from ..draw.recording_picture import recording_picture

        return recording_picture(_view(self.heard))

    def summary(self) -> list[str]:
        from ..listen.heard_text import summary

        return summary(self.heard)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, HeardRecording) and self.json() == other.json()

    def __hash__(self) -> int:
        return hash(self.json())

    def __str__(self) -> str:
        return "\n".join([*self.summary(), "", self.text()])

    def __repr__(self) -> str:
        return str(self)

    def _repr_mimebundle_(self, include: object = None, exclude: object = None) -> Any:
        data, about = self.picture()._repr_mimebundle_()
        return {**data, "text/plain": str(self)}, about


def hear(track: Path | str, *, tempo: float | None = None, meter: Meter | str | None = None,
         first_bar: float | None = None, key: Scale | str | None = None, form: str | int | None = None,
         chart: Chart | str | None = None) -> HeardRecording:
    """To get a chart from a recording: tempo, bars, key, chords and sections, each a suggestion.

    It reads WAV, FLAC, OGG and MP3; bar one and the beats are told too. What is given is taken as right and sharpens
    the rest: `tempo` in quarter notes a minute, `first_bar` in seconds from the beginning, `form` as the bars of a
    chorus (12) or of sections ("A8 B8"), `chart` as the edited text of `.text()`. Raises ListenError.

    >>> import tempfile, pathlib
    >>> file = pathlib.Path(tempfile.mkdtemp()) / "groove.wav"
    >>> _ = listen("| Am7 | D7 |", passes=4).save(file)
    >>> hear(file, tempo=100).summary()[1][:9]
    'meter 4/4'
    """
    from ..listen.hearing import hear_recording
    from ..listen.recording import EXPECTED, ListenError, read_recording
    from ..listen.wishes import wishes

    name = str(track) if isinstance(track, Path) else as_text(track, "recording", EXPECTED, ListenError)
    wished = wishes(tempo=tempo, meter=meter, first_bar=first_bar, key=key, form=form, chart=chart)
    return HeardRecording(hear_recording(read_recording(name), wished))


def _view(heard: Heard) -> Any:
    from ..draw.recording_picture import RecordingView
    from ..listen.heard_text import summary

    lengths = {one: _length(heard, place) for place, one in enumerate(heard.chords)}
    pass_bars = heard.chart.form_bars
    chords = [(one.bar, one.share, lengths[one], one.chord.pretty, one.confidence)
              for one in heard.chords if one.bar < pass_bars]
    name = " ".join(heard.recording.name.split())
    said = ". ".join(line[:1].upper() + line[1:].rstrip(".") for line in summary(heard))
    return RecordingView(name, heard.recording.seconds, heard.strip, [float(one) for one in heard.grid.bar_edges],
                         [(one.name, one.start_seconds, one.end_seconds) for one in heard.sections], chords,
                         heard.changes.likeness, said + ".")


def _length(heard: Heard, place: int) -> float:
    """How much of its bar a chord takes."""
    here = heard.chords[place]
    following = heard.chords[place + 1] if place + 1 < len(heard.chords) else None
    return (following.share if following is not None and following.bar == here.bar else 1.0) - here.share
