"""The tension map: every arpeggio over a chord at a look, twelve roots by kinds, darker where it serves better.

Each square carries its score, so that nothing hangs on the shade alone; a border marks what lies inside the home scale
and a dashed one what is colour. matplotlib is imported when a map is drawn.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from io import StringIO
from typing import Any

from theorylib.errors import ChordError, listed, one_of
from theorylib.names.arpeggios import KINDS, arpeggio
from theorylib.names.chords import Chord, as_chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import NoteName, pretty_accidentals
from theorylib.reading.substitutes import Substitute, substitutes

from .pictures import Picture, maker

_MAJOR_TRIAD = "major triad"
_DARK = 0.465  # the grey on which white and black text both keep 4.5 to 1 (WCAG 2 contrast)


def tension_map(chord: Chord | str, key: Scale | str | None = None, next_chord: Chord | str | None = None, *,
                kinds: Iterable[str] | None = None, ax: Any = None) -> Any:
    """To compare all arpeggios over a chord at a glance, inside to outside, with matplotlib.

    It draws into `ax` (None: a new figure's) and returns the Axes. Columns are degrees of the roots, 1 to 7.

    >>> tension_map("Dm7").get_title()
    'Arpeggios over Dm7: solid frame inside, dotted frame colour'
    """
    from matplotlib.figure import Figure

    rows = [one_of(kind, KINDS, "kind of arpeggio", ChordError)
            for kind in listed(KINDS if kinds is None else kinds, "list of kinds", ", ".join(KINDS), ChordError)]
    found = {(one.kind, one.step): one for one in substitutes(chord, key, next_chord)}
    if ax is None:
        ax = Figure(figsize=(9.5, 0.31 * len(rows) + 1.6), layout="constrained").subplots()
    high = max([one.score for one in found.values()] + [1.0])
    for y, kind in enumerate(rows):
        for x in range(12):
            _square(ax, (x, y), found.get((kind, x)), high)
    roots = {one.step: one.arpeggio.names[0].pretty for one in found.values()}
    _label_axes(ax, [roots[x] for x in range(12)], [_row_name(kind) for kind in rows])
    ax.set_title(f"Arpeggios over {as_chord(chord).pretty}: solid frame inside, dotted frame colour", fontsize=11,
                 pad=24)
    return ax


def _square(ax: Any, corner: tuple[int, int], one: Substitute | None, high: float) -> None:
    """One arpeggio: darker the nearer its score is to the highest, framed by how far out it lies."""
    from matplotlib.patches import Rectangle

    x, y = corner
    share = 0.0 if one is None else max(0.0, one.score) / high
    shade = 1.0 - 0.78 * share**1.5
    ax.add_patch(Rectangle((x, y), 1, 1, facecolor=(shade, shade, shade), edgecolor="#cccccc", linewidth=0.5))
    if one is None:
        return
    ax.text(x + 0.5, y + 0.52, f"{one.score:g}", ha="center", va="center", fontsize=7.5,
            color="#ffffff" if shade < _DARK else "#000000")
    if one.reach != "outside":
        ax.add_patch(Rectangle((x + 0.07, y + 0.1), 0.86, 0.8, fill=False, edgecolor="#0b5c94", linewidth=1.6,
                               linestyle="-" if one.reach == "inside" else ":"))


def _label_axes(ax: Any, columns: Sequence[str], rows: Sequence[str]) -> None:
    ax.set_xlim(0, len(columns))
    ax.set_ylim(len(rows), 0)
    ax.set_xticks([x + 0.5 for x in range(len(columns))], columns)
    ax.set_yticks([y + 0.5 for y in range(len(rows))], rows)
    ax.xaxis.tick_top()
    ax.tick_params(length=0, labelsize=9)
    for side in ax.spines.values():
        side.set_visible(False)


def tension_picture(chord: Chord | str, key: Scale | str | None = None, next_chord: Chord | str | None = None,
                    *, kinds: Iterable[str] | None = None) -> Picture:
    """To show in a lesson which arpeggios lie how far outside: the map as a picture.

    It has the same bytes each time; `kinds` are its rows (None: all).

    >>> tension_picture("Dm7").alt.splitlines()[0][:60]
    '347 arpeggios over Dm7: 55 inside, 96 colour, 196 outside. B'
    """
    from matplotlib import rc_context

    words, found = map_words(chord, key, next_chord), StringIO()
    with rc_context({"svg.fonttype": "none", "svg.hashsalt": "vampbook"}):
        figure = tension_map(chord, key, next_chord, kinds=kinds).figure
        figure.savefig(found, format="svg", metadata={"Date": None, "Creator": None})
    svg = found.getvalue()
    return Picture(svg[svg.index("<svg"):], words, f"Arpeggios over {as_chord(chord).pretty}", 180.0, words,
                   maker=maker("matplotlib"))


def _row_name(kind: str) -> str:
    return _MAJOR_TRIAD if not kind else arpeggio(NoteName("C"), kind).pretty.removeprefix("C").strip()


def map_words(chord: Chord | str, key: Scale | str | None = None, next_chord: Chord | str | None = None,
              most: int = 8) -> str:
    """The map in words: how many arpeggios lie how far out, and the best of them."""
    found = substitutes(chord, key, next_chord)
    counts = {reach: sum(one.reach == reach for one in found) for reach in ("inside", "colour", "outside")}
    best = ", ".join(_said(one) for one in found[:most])
    said = ", ".join(f"{count} {reach}" for reach, count in counts.items())
    return f"{len(found)} arpeggios over {as_chord(chord).pretty}: {said}. Best: {best}."


def _said(one: Substitute) -> str:
    return f"{one.arpeggio.pretty} ({' '.join(map(pretty_accidentals, one.degrees))})"
