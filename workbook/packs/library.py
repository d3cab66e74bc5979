"""Building many packs: only what changed, side by side, and one that fails never stops the rest.

For each pack the user's cache folder keeps a digest of all that it was made from, and size and time of its files. A
pack is left as it is only while both hold: a change of program, library, option, lesson or file beside it rebuilds.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from theorylib.errors import VampError

from ..files import slug, write_whole
from ..lessons import LessonError, read_lesson
from ..reader import EVERYONE, read_by
from ..retarget import all_keys
from .personal import Student, personal_lesson, too_hard, with_large_print
from .run import USUAL, Bounds
from .workers import Lost, each

_ROOMS = ("theorylib", "workbook")
_LIBRARIES = ("verovio", "typst", "mistune", "mido", "numpy", "scipy", "soundfile", "pyloudnorm", "pretty_midi",
              "midirenderer", "matplotlib", "ipython")
CACHE = "VAMPBOOK_CACHE"  # environment variable: another place for what is remembered
BUILD_SECONDS = 300.0     # for the files of one pack, beside the time that the lesson may run


@dataclass(frozen=True, slots=True)
class Order:
    """One pack to be built: from which lesson, into which folder, for whom (None: as the lesson is)."""

    path: Path
    folder: Path
    student: Student | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one order: the names of its pack's files, or why there is none; `note` is for the teacher."""

    path: Path
    folder: Path
    files: tuple[str, ...] = ()
    error: str = ""
    unchanged: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class How:
    """How packs are built: whether lessons are run and within which bounds, and the options of build.build_pack.

    With `keep` the record of a pack holds what a course makes of it too: its facts, and the tree of its handout.
    """

    options: Mapping[str, Any]
    run: bool = True
    bounds: Bounds = USUAL
    keep: bool = False


def orders_for(paths: Sequence[Path], out: Path, students: Sequence[Student] = ()) -> list[Order]:
    """Each lesson's pack in `out`, under the lesson's own name; each student's in a folder of their own."""
    if not students:
        return [Order(path, out / slug(path.stem)) for path in paths]
    return [Order(path, out / slug(who.name) / slug(path.stem), who) for who in students for path in paths]


def orders_in_keys(paths: Sequence[Path], out: Path, keys: Sequence[str], tuning: str) -> list[Order]:
    """Each lesson in each key ("all": the twelve; none: its own) and a tuning (empty: its own), named after them."""
    found = []
    for path in paths:
        wanted: Sequence[str] = keys or [""]
        if "all" in keys:
            wanted = all_keys(read_lesson(path))
        for key in wanted:
            said = (f" in {_spelled(key)}" if key else "") + (f" tuned {_spelled(tuning)}" if tuning else "")
            found.append(Order(path, out / slug(path.stem + said), Student(key=key, tuning=tuning)))
    return found


def _spelled(name: str) -> str:
    """A key or tuning for a file name, in which F# and F must differ."""
    return re.sub(r"(?<=[A-G])b", " flat", name.replace("#", " sharp "))


def build_library(orders: Sequence[Order], how: How, *, jobs: int | None = None,
                  force: bool = False) -> Iterator[Outcome]:
    """Build the packs, as they get done; `jobs` processes (None: one a core). Two orders for one folder are refused."""
    places: dict[Path, list[Order]] = {}
    for order in orders:
        places.setdefault(order.folder, []).append(order)
    beside = {folder: _beside(folder) for folder in {order.path.parent for order in orders}} if how.run else {}
    due = []
    for folder, same in places.items():
        for order in same:
            if len(same) > 1:
                others = ", ".join(str(one.path) for one in same)
                yield Outcome(order.path, folder, error=f"{order.path}: lessons of one name share a pack: {others}")
                continue
            made = digest(order, how, beside.get(order.path.parent))
            files = () if force else standing(folder, made, how.keep)
            if files:
                yield Outcome(order.path, folder, files, unchanged=True)
            else:
                due.append((order, how, made))
    for index, result in each(build_one, due, jobs, how.bounds.seconds + BUILD_SECONDS):
        order = due[index][0]
        lost = isinstance(result, Lost)
        yield Outcome(order.path, order.folder, error=f"{order.path}: {result.why}") if lost else result


def digest(order: Order, how: How, beside: str | None) -> str:
    """A digest of everything that a pack is made from; `beside` (None: the lesson is not run) is _beside's."""
    found = hashlib.sha256(program().encode())
    options = sorted((key, repr(value)) for key, value in how.options.items())
    found.update(repr((options, beside, order.student)).encode())
    try:
        found.update(order.path.read_bytes())
    except OSError as error:
        found.update(str(error).encode())
    sound = how.options.get("sound")
    if sound is not None and sound.soundfont is not None and sound.soundfont.is_file():
        found.update(repr(sound.soundfont.stat()[6:9]).encode())
    return found.hexdigest()


def _beside(folder: Path) -> str:
    """What else a lesson could read there: name, size and time of each file that is no notebook."""
    if not folder.is_dir():
        return ""
    return repr(sorted((one.name, one.stat().st_size, one.stat().st_mtime_ns) for one in os.scandir(folder)
                       if one.is_file() and not one.name.endswith(".ipynb")))


@lru_cache(maxsize=1)
def program() -> str:
    """A digest of our own source, and the versions of what it builds with."""
    from importlib.metadata import PackageNotFoundError, version

    found = hashlib.sha256()
    root = Path(__file__).resolve().parents[2]
    for room in _ROOMS:
        for path in sorted((root / room).rglob("*")):
            if path.suffix in (".py", ".js", ".css", ".html", ".typ", ".json", ".ttf") and path.is_file():
                found.update(path.read_bytes())
    for name in _LIBRARIES:
        try:
            found.update(f"{name} {version(name)}".encode())
        except PackageNotFoundError:
            found.update(f"{name} none".encode())
    return found.hexdigest()


def standing(folder: Path, made: str, keep: bool = False) -> tuple[str, ...]:
    """The files of a pack that is still right; none when it must be built."""
    try:
        record = remembered(folder)
        if record["digest"] != made or (keep and "tree" not in record):
            return ()
        here = _files(folder)
    except (OSError, ValueError, KeyError, TypeError):
        return ()
    return tuple(record["files"]) if here == record["files"] else ()


def remember(folder: Path, made: str, **more: Any) -> None:
    """Keep what a pack was made from, and `more`; raises FileError where the cache cannot be written."""
    record = {"digest": made, "files": _files(folder), **more}
    write_whole(_record(folder), json.dumps(record, ensure_ascii=False) + "\n")


def remembered(folder: Path) -> dict[str, Any]:
    """The record of a pack; raises OSError or ValueError where there is none."""
    return json.loads(_record(folder).read_text(encoding="utf-8"))


def forget(folder: Path) -> bool:
    """Drop the record of a pack; whether there was one, and the pack is as it was left."""
    try:
        ours = remembered(folder)["files"] == _files(folder)
    except (OSError, ValueError, KeyError, TypeError):
        return False
    _record(folder).unlink(missing_ok=True)
    return ours


def _record(folder: Path) -> Path:
    """Where the record of a pack lies: a name for the folder of packs, then the pack's own."""
    from platformdirs import user_cache_path

    cache = Path(os.environ.get(CACHE) or user_cache_path("vampbook", appauthor=False))
    return cache / hashlib.sha256(str(folder.parent.resolve()).encode()).hexdigest()[:24] / f"{folder.name}.json"


def _files(folder: Path) -> dict[str, list[int]]:
    """[size, time of change] of each file of a pack."""
    return {one.name: [one.stat().st_size, one.stat().st_mtime_ns] for one in sorted(folder.iterdir()) if one.is_file()}


def build_one(order: Order, how: How, made: str) -> Outcome:
    """Run and build one lesson, and remember what the pack was made from."""
    from ..handouts.tree import tree_of
    from .build import build_pack
    from .facts import facts_of
    from .run import run_lesson

    try:
        notebook, options, who = read_lesson(order.path), how.options, order.student
        try:
            if who is not None and how.run:
                notebook = personal_lesson(notebook, order.path.parent, who, how.bounds)
                options = with_large_print(options, who)
            elif how.run:
                notebook = run_lesson(notebook, order.path.parent, bounds=how.bounds)
            elif who is not None:
                raise LessonError("a lesson for someone, or in another key or tuning, must be run", value=who.name)
            with read_by(EVERYONE if who is None else who.reader):
                pack = build_pack(notebook, order.path, order.folder, **options)
        except VampError as error:
            raise error.at(": ".join(filter(None, (order.path.name, error.where)))) from error
        kept = {"facts": facts_of(notebook, order.path), "tree": tree_of(notebook)} if how.keep else {}
        with suppress(VampError):  # a cache that cannot be written costs time, never a pack
            remember(pack.folder, made, **kept)
        return Outcome(order.path, pack.folder, pack.files, note=too_hard(notebook, who) if who else "")
    except (VampError, OSError) as error:
        return Outcome(order.path, order.folder, error=str(error))
