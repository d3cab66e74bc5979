"""The explorer without a kernel: chart, reading, list and neck as plain HTML, pictures on their own white ground.

It is what a saved notebook, a static page and a printed one show; nothing in it needs a script.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from html import escape
from typing import Any

from theorylib.errors import VampError
from theorylib.names.spelling import pretty_accidentals
from theorylib.reading.substitutes import Substitute

from ..draw.chart import chart_picture
from ..draw.neck import plot_neck
from ..draw.score import score
from .explored import Explored, View, row_id
from .explored_lines import picked_line
from .explored_take import arpeggio_of, pair_at, view_at

MOST_ROWS = 12
_STYLE = "text-align:left;padding:2px 12px 2px 0;vertical-align:top"


def still_html(explored: Explored, state: Mapping[str, Any]) -> str:
    """All that is set, as HTML; a part that cannot be made is left out."""
    view = view_at(explored, state["chord"])
    other = arpeggio_of(view, state.get("row") or "")
    where = {"position": state["position"]} if state.get("position") else {}
    neck = plot_neck(other or view.chord, explored.tuning, over=view.chord if other else None,
                     next_chord=view.following, **where).turned(left_handed=bool(state.get("left")))
    parts = [chart_picture(explored.chart).image_tag(), *_reading(view), neck.image_tag(), *_list(view, state)]
    return f'<div class="vbx-still">{"".join(parts)}{"".join(_phrase(explored, state))}</div>'


def _reading(view: View) -> Iterator[str]:
    reading = view.reading
    yield (f"<p><strong>{escape(view.chord.pretty)}</strong> is {escape(pretty_accidentals(reading.numeral))} of "
           f"{escape(reading.key.pretty)} ({escape(reading.role)}); its scale is "
           f"<strong>{escape(reading.scale.pretty)}</strong>.</p>")


def _list(view: View, state: Mapping[str, Any]) -> Iterator[str]:
    """The chosen row and the pins first, then the best."""
    found = view.substitutes()
    chosen = {str(state.get("row") or "")} | {row for event, row in state.get("pins") or () if event == state["chord"]}
    first = [one for one in found if row_id(one) in chosen]
    rest = [one for one in found if one not in first and state.get("reach") in ("", None, "all", one.reach)]
    rows = [*first, *rest][:MOST_ROWS]
    heads = ("Arpeggio, and what its notes become", "How far out, and why")  # two columns, for a narrow screen
    body = "".join(map(_row, rows))
    head = "".join(f'<th scope="col" style="{_STYLE}">{word}</th>' for word in heads)
    yield (f"<table><caption>Arpeggios over {escape(view.chord.pretty)}, {len(rows)} of {len(found)}</caption>"
           f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>")


def _row(one: Substitute) -> str:
    notes = " ".join(map(pretty_accidentals, one.degrees))
    what, why = escape(one.arpeggio.pretty), escape(f"{one.reach}: {one.reason}")
    cells = (f"<strong>{what}</strong><br>{escape(notes)}", why)
    return "<tr>" + "".join(f'<td style="{_STYLE}">{cell}</td>' for cell in cells) + "</tr>"


def _phrase(explored: Explored, state: Mapping[str, Any]) -> Iterator[str]:
    """The places that were clicked, as a score."""
    picked = [(int(string), int(fret)) for string, fret in state.get("picks") or ()]
    if picked:
        try:
            changes = pair_at(explored, state["chord"])
            yield score(picked_line(picked, changes, explored.tuning, lambda pitch: None)).image_tag()
        except VampError:
            return
