"""The other way round: where an arpeggio, or notes that were clicked, fit in these changes and in the open."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from theorylib.names.arpeggios import Arpeggio, as_arpeggio
from theorylib.names.chords import Chord
from theorylib.names.naming import names_of
from theorylib.names.spelling import pretty_accidentals
from theorylib.reading.substitutes import Substitute, judge_one
from theorylib.reading.uses import uses_of

from .explored import Explored

MOST_OPEN = 12


def uses_data(what: str, explored: Explored) -> dict[str, Any]:
    """Each chord of the changes with what the arpeggio is over it, then chords in the open, the best first.

    Raises ChordError for a text that is no arpeggio.
    """
    found = as_arpeggio(what)
    return {"what": found.pretty, "text": str(found), "here": list(_here(found, explored)),
            "open": [{"chord": use.chord.pretty, "numeral": use.numeral, "reach": use.reach, "sound": use.sound}
                     for use in uses_of(found)[:MOST_OPEN]]}


def _here(found: Chord | Arpeggio, explored: Explored) -> Iterator[dict[str, Any]]:
    for number, view in enumerate(explored.views):
        event = explored.view_of.index(number)
        judged = judge_one(found, view.chord, view.reading.home, view.reading.scale)
        yield {"event": event, "bar": explored.chart.events[event].bar + 1, "chord": view.chord.pretty,
               "row": "" if judged is None else f"{judged.step}:{judged.kind}", **_said(judged)}


def _said(judged: Substitute | None) -> dict[str, Any]:
    if judged is None:
        return {"reach": "", "degrees": "", "clashes": ""}
    return {"reach": judged.reach, "degrees": " ".join(map(pretty_accidentals, judged.degrees)),
            "clashes": " ".join(map(pretty_accidentals, judged.clashes))}


def named_places(picked: Sequence[tuple[int, int]], explored: Explored, names: Sequence[str]) -> dict[str, Any]:
    """What clicked places are called: their notes from the lowest, and the chords that these spell, as texts.

    `names` spell the twelve pitch classes.
    """
    midis = sorted(explored.tuning.midi(string, fret) for string, fret in picked)
    notes = list(dict.fromkeys(names[midi % 12] for midi in midis))
    chords = names_of(notes)[:4] if len(notes) > 1 else ()
    return {"notes": notes, "chords": [[chord.pretty, str(chord)] for chord in chords]}
