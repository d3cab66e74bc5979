"""A backing track as a cell shows it: who plays and how, and the plan of its bars, of which a pack makes a track."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from theorylib.changes.chart_text import tempo_words
from theorylib.changes.charts import Chart, as_chart

from ..mimes import BACKING_MIME
from ..play.band import STYLED, WORDS, Band, band_of
from ..play.kept import kept_text
from ..play.plan_text import picture, rows

if TYPE_CHECKING:
    from ..draw.pictures import Picture
    from ..play.parts import Backing
    from ..play.player import Player


@dataclass(frozen=True)
class BackingTrack:
    """Changes and the band that plays them. A cell shows its plan; the lesson's pack makes its track from it.

    `.track` has every hit, `.listen()` gives a player, `.text()` and `.picture()` the plan.
    """

    chart: Chart
    band: Band

    @cached_property
    def track(self) -> Backing:
        from ..play.backing import backing as played

        return played(self.chart, self.band)

    def text(self) -> str:
        """The plan in signs, a row for each stretch."""
        return f"{self._title()}, {self._about()}\n{picture(self.track.plan, self.track.groups)}"

    def picture(self) -> Picture:
        """The plan drawn."""
        from ..draw.plan_sheet import PlanBar, PlanRow, plan_picture

        drawn = [PlanRow(row.first, row.where, row.name, row.density,
                         tuple(PlanBar(bar.density, bool(bar.fill), bar.crash, bool(bar.resting)) for bar in row.bars))
                 for row in rows(self.track.plan)]
        kept = kept_text(self.chart, self.band)
        return replace(plan_picture(self._title(), self._about(), drawn, self.text()), extra={BACKING_MIME: kept})

    def listen(self, soundfont: Path | str | None = None) -> Player:
        """A player for it, with the voices of your own SoundFont where one is named."""
        from ..play.player import player_of

        return player_of(self.track, (), self._title(), soundfont)

    def _title(self) -> str:
        return f"Backing: {self.chart.title}" if self.chart.title else "Backing"

    def _about(self) -> str:
        tempo = tempo_words(self.chart.tempo, self.chart.meter)
        return " · ".join([*self._styles(), tempo, _lasting(self.track.seconds)])

    def _styles(self) -> Iterator[str]:
        """The style of the whole, where another one plays a part that part with its own, and who is silent."""
        yield self.band.style_for(self.chart).name
        for part in STYLED[1:]:
            if getattr(self.band, part) is not None:
                yield f"{part} {self.band.style_of_part(self.chart, part).name}"
        if self.band.silent:
            yield f"without {', '.join(self.band.silent)}"

    def _repr_mimebundle_(self, include: object = None, exclude: object = None) -> Any:
        return self.picture()._repr_mimebundle_(include, exclude)

    def __repr__(self) -> str:
        return self.text()


def backing(chart: Chart | str, **words: Any) -> BackingTrack:
    """To choose what the lesson's backing track plays; the cell shows the plan of its bars.

    `style` is a feel's name or the file of your own ("mine.txt"); `drums`, `bass` and `comp` are styles of one part.
    `density`: "grows", "light", "main", "full" or "stop", or one for each chorus ("light, main x2, full"). `choruses`:
    how many. `intro` and `tag`: bars before and after them; `ending=False` leaves the held last chord out, `loop=True`
    all but the choruses. `without`: parts that stay silent ("bass, drums"). `groups`: of an odd bar ("2+2+3").
    Raises BackingError, StyleError, ArrangementError or GroupError, which name the nearest that there is.

    >>> backing("[A] | Am7 | D7 | Am7 | E7 |", choruses=2, density="light, full", ending=False, without="bass")
    Backing, straight 8 · without bass · ♩ = 100 · 0:41
    bars 1–8   A A  light  ▁▁▁▁ ▁▁▁▂
    bars 9–16  A A  full   █▆▆▆ ▆▆▆▇
    ▁ light  ▆ full  ▂▅▇ with a fill  █ a crash
    """
    made = BackingTrack(as_chart(chart), band_of(words))
    made.track  # noqa: B018  what cannot be played is refused here, in its cell
    return made


# What help and completion show of it: the words that `band_of` takes, as the band has them.
_BAND = inspect.signature(Band).parameters.values()
vars(backing)["__signature__"] = inspect.Signature([
    inspect.Parameter("chart", inspect.Parameter.POSITIONAL_OR_KEYWORD, annotation="Chart | str"),
    *(one.replace(kind=inspect.Parameter.KEYWORD_ONLY) for one in _BAND if one.name in WORDS),
    inspect.Parameter("without", inspect.Parameter.KEYWORD_ONLY, default="", annotation="Sequence[str] | str"),
], return_annotation="BackingTrack")


def _lasting(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"
