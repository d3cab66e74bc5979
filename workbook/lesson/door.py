"""The door for notebooks: a file is read, and its shape checked once, so that what comes after can trust it.

The shape is nbformat 4's, by its own schema; what Jupyter mends by itself (a missing cell id) is let in. Of our own
metadata (`vampbook`, what a figure says of itself) the types are checked here, their sense by `vampbook check`; a
stored line is read by its own schema (theorylib.playing.line_text) when it is asked for. Every refusal names file,
cell and field.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from theorylib.errors import VampError, closest
from theorylib.plain_json import JsonError, read_json

from ..files import read_text
from ..mimes import EAR_MIME, LINE_MIME, PHOTO_MIMES, SVG_MIME

FORMAT = 4            # of notebooks
VERSION = 1           # of our own metadata; a notebook that does not say it is of version 1
_HIGHEST_MM = 10_000  # of a figure
_FIGURES = (SVG_MIME, *PHOTO_MIMES)
_ID = re.compile(r"[a-zA-Z0-9_-]{1,64}")
Shape = Mapping[str, Callable[[Any, str], None]]


class LessonError(VampError):
    """A notebook that is not a lesson, or a lesson that cannot be written from the choices given."""


def read_notebook(path: Path) -> dict[str, Any]:
    """The notebook of a file; raises LessonError, or FileError, that names the file, the cell and the field."""
    text = read_text(path)
    try:
        return checked(read_json(text))
    except VampError as error:
        place = re.sub(r"^cells,? (\d+)", r"cell \1", error.where)
        unreadable = isinstance(error, JsonError) and not error.where.startswith("cells")
        raise LessonError(f"it is not a notebook: {error.message}" if unreadable else error.message,
                          value=error.value, where=": ".join(filter(None, (str(path), place))),
                          expected=error.expected, nearest=error.nearest) from error


def checked(notebook: Any) -> dict[str, Any]:
    """The notebook as it is, of the shape that everything here relies on; raises LessonError naming cell and field."""
    if not isinstance(notebook, dict) or not isinstance(notebook.get("cells"), list):
        raise LessonError("it is not a notebook", expected="a Jupyter notebook in format 4")
    if notebook.get("nbformat") != FORMAT or type(notebook["nbformat"]) is not int:
        raise LessonError(f"it is a notebook in format {_said(notebook.get('nbformat'))}, not in format {FORMAT}",
                          where="nbformat", value=notebook.get("nbformat"),
                          expected="a notebook that Jupyter saved in format 4")
    _hold(notebook, _NOTEBOOK, "")
    _hold(notebook["metadata"], _OURS, "metadata")
    places: dict[str, int] = {}
    for number, cell in enumerate(notebook["cells"], 1):
        _cell(cell, f"cell {number}")
        name = cell.get("id")
        if name is not None and places.setdefault(name, number) != number:
            raise _wrong(name, f"cell {number}, id", f"an id of its own: “{name}” is that of cell {places[name]}")
    return notebook


# -- parts -----------------------------------------------------------------------------------------------------------
def _cell(cell: Any, where: str) -> None:
    _object(cell, where)
    shape = _one_of(cell, "cell_type", _CELLS, where)
    _hold(cell, shape, where)
    if "tags" in cell["metadata"]:
        _texts(cell["metadata"]["tags"], f"{where}, metadata, tags")
    if "vampbook" in cell["metadata"]:
        _object(cell["metadata"]["vampbook"], f"{where}, metadata, vampbook")
        _hold(cell["metadata"]["vampbook"], _OF_CELL, f"{where}, metadata, vampbook")
    for number, output in enumerate(cell.get("outputs", ()) if cell["cell_type"] == "code" else (), 1):
        place = f"{where}, output {number}"
        _object(output, place)
        _hold(output, _one_of(output, "output_type", _OUTPUTS, place), place)


def _one_of(value: Mapping[str, Any], field: str, known: Mapping[str, Shape], where: str) -> Shape:
    kind = value.get(field)
    if not isinstance(kind, str) or kind not in known:
        raise LessonError(f"“{_said(kind)}” is no {field.replace('_', ' ')}", value=kind, where=f"{where}, {field}",
                          expected=", ".join(known), nearest=closest(kind, known) if isinstance(kind, str) else ())
    return known[kind]


def _hold(value: Mapping[str, Any], shape: Shape, where: str) -> None:
    """Each field of a shape: a missing one is given to its check as None, unless its name ends in “?”."""
    for name, check in shape.items():
        field = name.removesuffix("?")
        if field in value or not name.endswith("?"):
            check(value.get(field), f"{where}, {field}" if where else field)


def _about(about: Any, where: str) -> None:
    """Our own entry in a notebook's metadata."""
    _object(about, where)
    version = about.get("version", 1)
    if type(version) is not int or version < 1:
        raise _wrong(version, f"{where}, version", "a whole number")
    if version > VERSION:
        raise LessonError(f"the lesson is of version {version}, written by a newer kit", value=version,
                          where=f"{where}, version", expected=f"version {VERSION} or older")
    for name, check in _ABOUT.items():
        if name in about:
            check(about[name], f"{where}, {name}")


def _written(value: Any, where: str) -> None:
    """What the kit keeps of the cells that it wrote."""
    _object(value, where)
    _hold(value, {"parts?": _texts, "aims?": _string}, where)


def _mark(value: Any, where: str) -> None:
    """By whom a cell was written, and a digest of its text then."""
    _object(value, where)
    _hold(value, {"by": _name, "digest": _string}, where)


def _bundle(data: Any, where: str) -> None:
    """Data by media type: texts, but for JSON."""
    _object(data, where)
    for mime, value in data.items():
        if mime in (LINE_MIME, EAR_MIME):
            if not isinstance(value, dict):
                _text(value, f"{where}, {mime}")
        elif not mime.endswith("json"):
            _text(value, f"{where}, {mime}")


def _shown(metadata: Any, where: str) -> None:
    """What an output says of itself: of a figure its words, width and cuts, for all its forms or for one."""
    _object(metadata, where)
    _figure(metadata, where)
    for mime in _FIGURES:
        if mime in metadata:
            _object(metadata[mime], f"{where}, {mime}")
            _figure(metadata[mime], f"{where}, {mime}")


def _figure(details: Mapping[str, Any], where: str) -> None:
    for name, check in _FIGURE.items():
        if name in details:
            check(details[name], f"{where}, {name}")


# -- kinds of value --------------------------------------------------------------------------------------------------
def _said(value: Any) -> str:
    """A value as a message shows it."""
    if isinstance(value, dict | list):
        return "a list" if isinstance(value, list) else "an object"
    if isinstance(value, int) and abs(value) > 10**15:
        return "a number beyond all use"
    text = value if isinstance(value, str) else json.dumps(value)
    return text if len(text) <= 40 else text[:40] + "…"


def _wrong(value: Any, where: str, expected: str) -> LessonError:
    return LessonError(f"“{_said(value)}” stands here", value=value, where=where, expected=expected)


def _object(value: Any, where: str) -> None:
    if not isinstance(value, dict):
        raise _wrong(value, where, "an object")


def _list(value: Any, where: str) -> None:
    if not isinstance(value, list):
        raise _wrong(value, where, "a list")


def _string(value: Any, where: str) -> None:
    if not isinstance(value, str):
        raise _wrong(value, where, "a text")


def _texts(value: Any, where: str) -> None:
    if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
        raise _wrong(value, where, "a list of texts")


def _text(value: Any, where: str) -> None:
    """A text, in one piece or line by line."""
    if not isinstance(value, str) and not (isinstance(value, list) and all(isinstance(one, str) for one in value)):
        raise _wrong(value, where, "a text, or a list of its lines")


def _word(value: Any, where: str) -> None:
    """A text, or a number that stands for one (a tempo of 92)."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise _wrong(value, where, "a text or a number")


def _count(value: Any, where: str) -> None:
    if value is not None and (type(value) is not int or not 0 <= value < 2**31):
        raise _wrong(value, where, "a whole number, or null")


def _minor(value: Any, where: str) -> None:
    if type(value) is not int or not 0 <= value < 2**31:
        raise _wrong(value, where, "a whole number")


def _name(value: Any, where: str) -> None:
    if not isinstance(value, str) or _ID.fullmatch(value) is None:
        raise _wrong(value, where, "an id of 1 to 64 letters, digits, hyphens and underscores")


def _millimetres(value: Any, where: str) -> None:
    if type(value) not in (int, float) or not 0 <= value <= _HIGHEST_MM:
        raise _wrong(value, where, f"a width in mm, at most {_HIGHEST_MM}")


def _numbers(value: Any, where: str) -> None:
    if not isinstance(value, list) or not all(type(one) in (int, float) and abs(one) < 10**9 for one in value):
        raise _wrong(value, where, "a list of numbers")


def _files(value: Any, where: str) -> None:
    """The files that a text cell carries: each with data by media type."""
    _object(value, where)
    for name, data in value.items():
        _bundle(data, f"{where}, {name}")


# -- shapes: field (with “?” where it may be missing): the check of its value ------------------------------------------
_NOTEBOOK: Shape = {"metadata": _object, "nbformat_minor": _minor}
_OURS: Shape = {"vampbook?": _about, "vampbook_paired?": _object}
_ANY_CELL: Shape = {"id?": _name, "metadata": _object, "source": _text}
_CELLS: dict[str, Shape] = {
    "markdown": {**_ANY_CELL, "attachments?": _files}, "raw": {**_ANY_CELL, "attachments?": _files},
    "code": {**_ANY_CELL, "outputs": _list, "execution_count": _count},
}
_OUTPUTS: dict[str, Shape] = {
    "display_data": {"data": _bundle, "metadata": _shown},
    "execute_result": {"data": _bundle, "metadata": _shown, "execution_count": _count},
    "stream": {"name": _string, "text": _text},
    "error": {"ename": _string, "evalue": _string, "traceback": _texts},
}
_ABOUT: Shape = {**dict.fromkeys(("title", "minutes", "tempo", "student"), _word),
                 **dict.fromkeys(("level", "feel", "home", "key", "language"), _string),
                 "aims": _texts, "techniques": _texts, "written": _written}
_OF_CELL: Shape = {"written?": _mark}
_FIGURE: Shape = {"alt": _word, "caption": _word, "width_mm": _millimetres, "cuts": _numbers}

