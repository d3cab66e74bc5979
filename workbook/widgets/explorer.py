"""The neck explorer: a neck that answers at once; click places to build a shape and read what it is.

The browser draws: layers, labels, picks and positions change there within a frame, since the kernel sends the boards
of all positions after the one that is shown. It is asked only what needs theory: a new chord, scale or tuning, and what
the picked notes are called.
"""

from __future__ import annotations

from fractions import Fraction
from html import escape
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from theorylib.changes.charts import Chart
from theorylib.errors import VampError
from theorylib.names.chords import Chord
from theorylib.names.naming import names_of
from theorylib.names.scales import Scale, scales_with
from theorylib.names.spelling import NoteName, Pitch, pretty_accidentals
from theorylib.necks.areas import layers
from theorylib.necks.tuning_text import NAMED_TUNINGS
from theorylib.necks.tunings import Tuning
from theorylib.playing.lines import Line, Note
from theorylib.reading.chordscales import chord_scales, degree_over

from ..browser.bundle import module
from ..draw.markers import MARKERS
from ..draw.neck import plot_neck
from ..draw.neck_board import Board, Sizes, board_data
from ..draw.neck_view import NeckView, neck_view
from ..draw.tab_text import tab_text

SIZES = Sizes(fret=58.0, open=46.0, gap=38.0)  # units of the neck in the browser
LAST_FRET = 17
WHOLE_NECK = 0
POSITIONS = range(WHOLE_NECK, 16)


class NeckExplorer(anywidget.AnyWidget):
    """A live neck over one chord. `picked` holds the clicked places as [string, fret]; `answer` says what they are."""

    _esm = module(Path(__file__).parent / "explorer.js")
    _css = Path(__file__).parent / "explorer.css"

    chord = traitlets.Unicode("Gm7").tag(sync=True)
    scale = traitlets.Unicode("").tag(sync=True)
    next_chord = traitlets.Unicode("").tag(sync=True)
    tuning = traitlets.Unicode("standard").tag(sync=True)
    position = traitlets.Int(3).tag(sync=True)
    left_handed = traitlets.Bool(False).tag(sync=True)
    picked: Any = traitlets.List().tag(sync=True)
    tuning_choices = traitlets.List(list(NAMED_TUNINGS)).tag(sync=True)
    looks = traitlets.Dict().tag(sync=True)
    board = traitlets.Dict().tag(sync=True)
    boards = traitlets.Dict().tag(sync=True)  # position as text to its board: what the browser may show at once
    answer = traitlets.Unicode("").tag(sync=True)
    problem = traitlets.Unicode("").tag(sync=True)

    def __init__(self, **choices: Any) -> None:
        super().__init__(**choices)
        self.looks = {role: {"fill": marker.fill, "stroke": marker.stroke, "ink": marker.ink, "size": marker.size,
                             "text": marker.text, "word": marker.word, "corners": [list(one) for one in marker.corners]}
                      for role, marker in MARKERS.items()}
        self.observe(self._redraw, ["chord", "scale", "next_chord", "tuning"])
        self.observe(self._move, ["position"])
        self.observe(self._name, ["picked", "chord"])
        self._redraw(None)
        self._name(None)

    def _redraw(self, _: object) -> None:
        try:
            self.board, self.problem = self._board(self.position), ""
            self.boards = {str(position): self._board(position) for position in POSITIONS}
        except VampError as error:
            self.problem = str(error)

    def _move(self, _: object) -> None:
        """Show another position: from the boards that were sent, else a new one."""
        try:
            self.board, self.problem = self.boards.get(str(self.position)) or self._board(self.position), ""
        except VampError as error:
            self.problem = str(error)

    def _scale(self, chord: Chord) -> Scale:
        if self.scale.strip():
            return Scale.parse(self.scale)
        found = chord_scales(chord)
        if not found:
            raise VampError(f"no chord scale is known for {chord}", value=str(chord), expected="a scale by name")
        return found[0]

    def _view(self, position: int) -> tuple[NeckView, Chord, Scale]:
        chord = Chord.parse(self.chord)
        scale = self._scale(chord)
        tuning = Tuning.parse(self.tuning)
        where: dict[str, Any] = ({"position": position} if position != WHOLE_NECK
                                 else {"frets": (0, min(LAST_FRET, tuning.last_fret))})
        following = self.next_chord.strip() or None
        return neck_view(scale, tuning, over=chord, next_chord=following, **where), chord, scale

    def _board(self, position: int) -> dict[str, Any]:
        """What the browser draws: every place of the window, its notes by layer, hints, names of strings."""
        view, chord, scale = self._view(position)
        tuning = view.tuning
        names = {name.pitch_class: name for name in (*scale.names, *chord.names)}
        nested = [(layer.name, set(layer.degrees)) for layer in layers(chord, scale, max(1, position), tuning)]
        dots = []
        for dot in view.dots:
            pitch_class = tuning.midi(dot.string, dot.fret) % 12
            dots.append({"string": dot.string, "fret": dot.fret, "degree": dot.label, "role": dot.role,
                         "name": names[pitch_class].pretty, "spoken": dot.spoken,
                         "layer": next(index for index, (_, inside) in enumerate(nested) if pitch_class in inside)})
        board = Board(view.first_fret, view.last_fret, view.strings, SIZES)
        return {
            **board_data(board, tuning), "dots": dots, "layers": [name for name, _ in nested],
            "hints": [{"string": arrow.string, "from": arrow.from_fret, "to": arrow.to_fret, "label": arrow.label}
                      for arrow in view.arrows],
            "title": f"{scale.pretty} over {chord.pretty}",
        }

    def _name(self, _: object) -> None:
        """Say what the picked places are: notes with their degrees, chords they spell, scales that hold them."""
        try:
            chord, tuning = Chord.parse(self.chord), Tuning.parse(self.tuning)
            places = sorted((int(string), int(fret)) for string, fret in self.picked)
            midis = sorted(tuning.midi(string, fret) for string, fret in places)
        except VampError as error:
            self.problem = str(error)
            return
        if not midis:
            self.answer = "<p>Click places on the neck, or move with the arrow keys and press Enter.</p>"
            return
        spelled = {name.pitch_class: name for name in chord.names}
        notes = [Pitch.of_midi(midi, spelled.get(midi % 12)).name for midi in midis]
        self.answer = "".join(f"<p><b>{label}</b> {escape(words)}</p>" for label, words in (
            ("Notes", ", ".join(note.pretty for note in dict.fromkeys(notes))),
            (f"Over {chord.pretty}", ", ".join(_degree(chord, note) for note in dict.fromkeys(notes))),
            ("As a chord", _chords(notes)),
            ("In these scales", _scales(notes))) if words)
        if len(self.picked) > 1:
            self.answer += f"<p><b>As a line, in the order of your clicks</b></p><pre>{escape(self._line(chord))}</pre>"

    def _line(self, chord: Chord) -> str:
        """The picked places one after the other as text TAB."""
        tuning = Tuning.parse(self.tuning)
        spelled = {name.pitch_class: name for name in chord.names}
        notes = []
        for index, (string, fret) in enumerate(self.picked):
            name = spelled.get(tuning.midi(string, fret) % 12)
            notes.append(Note(tuning.pitch(string, fret, name), Fraction(index), Fraction(1), string, fret))
        return tab_text(Line(tuple(notes), Chart.parse(f"| {chord} |"), tuning))

    def _repr_mimebundle_(self, **options: Any) -> Any:
        """Beside the live view, the same neck as a picture: what a static page or a closed notebook shows."""
        bundle = super()._repr_mimebundle_(**options)
        data, metadata = bundle if isinstance(bundle, tuple) else (bundle or {}, {})
        chord = Chord.parse(self.chord)
        where: dict[str, Any] = {"position": self.position} if self.position != WHOLE_NECK else {}
        still, about = plot_neck(
            self._scale(chord), self.tuning, over=chord, next_chord=self.next_chord.strip() or None,
            left_handed=self.left_handed, **where)._repr_mimebundle_()
        return {**data, **still}, {**metadata, **about}


def _degree(chord: Chord, note: NoteName) -> str:
    return pretty_accidentals(degree_over(chord, note.fifths, note.pitch_class)) if chord.root else note.pretty


def _chords(notes: list[NoteName], most: int = 5) -> str:
    return ", ".join(chord.pretty for chord in names_of(notes)[:most]) or "no usual chord"


def _scales(notes: list[NoteName], most: int = 6) -> str:
    classes = frozenset(note.pitch_class for note in notes)
    if len(classes) < 3:
        return ""
    roots = {note.pitch_class for note in notes[:1]}
    found = sorted(scales_with(classes), key=lambda scale: (
        scale.tonic.pitch_class not in roots, len(scale.names), scale.parent_degree, str(scale)))
    more = f" and {len(found) - most} more" if len(found) > most else ""
    return ", ".join(scale.pretty for scale in found[:most]) + more
