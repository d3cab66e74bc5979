"""The substitutes panel: choose a chord of a chart, read the ranked arpeggios, see one on the neck over the chord."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape
from typing import Any

from theorylib.errors import ChordError, VampError
from theorylib.names.arpeggios import as_arpeggio
from theorylib.reading.harmony import harmony
from theorylib.reading.substitutes import Substitute, substitutes

from ..draw.neck import plot_neck
from ..lesson import prose
from .panel import Field, Panel, image, table
from .progression import KEYS, chart_in_key

ANY = "any"
SHOWN = 12


class SubstitutePanel(Panel):
    """A chart's chord and the arpeggios over it, filtered by how far out they are and by what the student knows."""

    headings = (("list", "Arpeggios, best first"), ("reason", "Why"), ("neck", "On the neck"))

    def fields_of(self) -> tuple[Field, ...]:
        return (Field("changes", "Changes", "text", "| Fm7 | Bb7#9 | Ebm7 |"),
                Field("key", "Key", "choice", KEYS[0], KEYS),
                Field("bar", "Chord number", "number", 2, low=1, high=200),
                Field("reach", "How far out", "choice", ANY, (ANY, "inside", "colour", "outside")),
                Field("known", "Arpeggios the student knows (empty: all)", "line", ""),
                Field("pick", "Show number", "number", 1, low=1, high=SHOWN),
                Field("position", "Position (fret)", "number", 5, low=1, high=14))

    def makers(self, values: Mapping[str, Any]) -> Mapping[str, Callable[[], str]]:
        def chosen() -> Substitute:
            found = self._found(values)
            number = min(max(1, int(values["pick"])), len(found))
            return found[number - 1]

        def neck() -> str:
            chord = self._chord(values)[0]
            return image(plot_neck(chosen().arpeggio, over=chord, position=int(values["position"])))

        return {"list": lambda: table(("", *prose.SUBSTITUTE_COLUMNS), [
                    (str(number), *row) for number, row in enumerate(prose.substitute_rows(self._found(values)), 1)]),
                "reason": lambda: f"<p>{escape(chosen().reason)}</p>", "neck": neck}

    def _chord(self, values: Mapping[str, Any]) -> tuple[Any, Any, Any, Any]:
        """(chord, next chord, home scale, its own scale) of the chord chosen by number."""
        read = harmony(chart_in_key(values["changes"], values["key"]))
        readings = [reading for reading in read.chords if reading.chord.root is not None]
        number = int(values["bar"])
        if not 1 <= number <= len(readings):
            raise VampError(f"there is no chord {number}", value=number, expected=f"1 to {len(readings)}")
        following = readings[number % len(readings)].chord
        reading = readings[number - 1]
        return reading.chord, following, reading.home, reading.scale

    def _found(self, values: Mapping[str, Any]) -> tuple[Substitute, ...]:
        chord, following, home, scale = self._chord(values)
        reach = None if values["reach"] == ANY else values["reach"]
        found = substitutes(chord, home, following, scale=scale, reach=reach)
        known = {str(as_arpeggio(word.strip())) for word in values["known"].split(",") if word.strip()}
        kept = tuple(one for one in found if not known or str(one.arpeggio) in known)
        if not kept:
            raise ChordError("none of these arpeggios is left", value=values["known"], expected="a wider choice")
        return kept[:SHOWN]


