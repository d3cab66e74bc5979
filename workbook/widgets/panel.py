"""A panel of choices and what follows from them: the frame that the interactive notebooks share.

A panel has fields (what a teacher chooses) and parts (pieces of HTML made in the kernel, each under its heading). The
pictures in the parts are images, so that a saved notebook, a static page and a live panel show the same. An error keeps
the last good parts in view and says in one line what to mend.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from theorylib.errors import VampError

from ..browser.bundle import module
from ..draw.pictures import Picture


@dataclass(frozen=True, slots=True)
class Field:
    """One choice: `kind` is "text" (long), "line", "number" (with `low` and `high`) or "choice" (of `choices`)."""

    name: str
    label: str
    kind: str
    value: str | int
    choices: tuple[str, ...] = ()
    low: int = 0
    high: int = 0


class Panel(anywidget.AnyWidget):
    """The frame: subclasses give `fields_of`, `headings` and `makers`; `values` holds the choices by field name."""

    _esm = module(Path(__file__).parent / "panel.js")
    _css = Path(__file__).parent / "panel.css"

    fields: Any = traitlets.List().tag(sync=True)
    values: Any = traitlets.Dict().tag(sync=True)
    titles: Any = traitlets.List().tag(sync=True)
    parts: Any = traitlets.Dict().tag(sync=True)
    problem = traitlets.Unicode("").tag(sync=True)

    headings: Sequence[tuple[str, str]] = ()

    def __init__(self, **choices: Any) -> None:
        fields = self.fields_of()
        names = [field.name for field in fields]
        unknown = [name for name in choices if name not in names]
        if unknown:
            raise VampError(f"this panel has no choice “{unknown[0]}”", value=unknown[0], expected=", ".join(names))
        super().__init__(fields=[asdict(field) for field in fields], titles=[list(one) for one in self.headings],
                         values={field.name: field.value for field in fields} | choices)
        self.observe(self._follow, ["values"])
        self._follow(None)

    def fields_of(self) -> tuple[Field, ...]:
        raise NotImplementedError

    def makers(self, values: Mapping[str, Any]) -> Mapping[str, Callable[[], str]]:
        """For each part a function that makes its HTML or raises our own error."""
        raise NotImplementedError

    def _follow(self, _: object) -> None:
        problems: list[str] = []
        parts = dict(self.parts)
        for name, make in self.makers(self.values).items():
            try:
                parts[name] = make()
            except VampError as error:
                problems.append(str(error))
        self.parts, self.problem = parts, " · ".join(dict.fromkeys(problems))

    def _repr_mimebundle_(self, **options: Any) -> Any:
        """Beside the live view, the same parts as plain HTML: what a static page or a closed notebook shows."""
        bundle = super()._repr_mimebundle_(**options)
        data, metadata = bundle if isinstance(bundle, tuple) else (bundle or {}, {})
        words = ", ".join(f"{name} {value}" for name, value in self.values.items())
        return {**data, "text/html": "".join(self.parts.values()), "text/plain": f"Panel: {words}"}, metadata


def image(picture: Picture) -> str:
    """A picture as an image with its alt text: shown alike in trusted and untrusted notebooks."""
    return picture.image_tag()


def table(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """An HTML table with a header row; every cell is escaped."""
    from html import escape

    head = "".join(f'<th scope="col">{escape(word)}</th>' for word in columns)
    body = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
