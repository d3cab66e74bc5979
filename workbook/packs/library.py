"""Building many lessons: only what changed, side by side, and one that fails never stops the rest.

For each pack the user's cache folder keeps a digest of all that it was made from, and size and time of its files. A
pack is left as it is only while both hold: a change of program, library, option, lesson or file beside it rebuilds.
"""

from __future__ import annotations

import hashlib
import json
import multiprocessing
import os
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from theorylib.errors import VampError

from ..files import slug, write_whole

_ROOMS = ("theorylib", "workbook")
_LIBRARIES = ("verovio", "typst", "mistune", "mido", "numpy", "scipy", "soundfile", "pyloudnorm", "pretty_midi",
              "midirenderer", "matplotlib", "ipykernel")
CACHE = "VAMPBOOK_CACHE"  # environment variable: another place for what is remembered


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one lesson: the names of its pack's files, or why there is none."""

    path: Path
    folder: Path
    files: tuple[str, ...] = ()
    error: str = ""
    unchanged: bool = False


def build_library(paths: Sequence[Path], out: Path, options: Mapping[str, Any], *, run: bool = True,
                  jobs: int | None = None, force: bool = False) -> Iterator[Outcome]:
    """Build each lesson's pack into `out`, as they get done; `jobs` processes (None: one a core).

    `options` go to packs.build.build_pack. Two lessons of one name are both refused.
    """
    places: dict[str, list[Path]] = {}
    for path in paths:
        places.setdefault(slug(path.stem), []).append(path)
    due = []
    beside = {folder: _beside(folder) for folder in {path.parent for path in paths}} if run else {}
    for name, same in places.items():
        for path in same:
            if len(same) > 1:
                others = ", ".join(map(str, same))
                yield Outcome(path, out / name, error=f"{path}: lessons of one name share a pack: {others}")
                continue
            made = digest(path, options, beside.get(path.parent))
            files = () if force else _standing(out, name, made)
            if files:
                yield Outcome(path, out / name, files, unchanged=True)
            else:
                due.append((path, out, dict(options), run, made))
    workers = min(len(due), jobs or os.cpu_count() or 1)
    if workers <= 1:
        yield from (_build(*one) for one in due)
        return
    here = (os.getcwd(), dict(os.environ))
    with ProcessPoolExecutor(workers, _processes(), initializer=_settle, initargs=here) as pool:
        waiting = {pool.submit(_build, *one): one for one in due}
        for done in as_completed(waiting):
            path = waiting[done][0]
            try:
                yield done.result()
            except Exception as error:
                yield Outcome(path, out / slug(path.stem), error=f"{path}: its process died: {error}")


def _processes() -> Any:
    """Workers forked from a server that has imported all but runs no thread (a plain fork hangs once typst has run)."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["workbook.packs.build", "workbook.packs.run"])
    return context


def _settle(folder: str, environment: dict[str, str]) -> None:
    """A worker begins where its server began; it must work where its caller is now."""
    os.chdir(folder)
    os.environ.clear()
    os.environ.update(environment)


def digest(path: Path, options: Mapping[str, Any], beside: str | None) -> str:
    """A digest of everything that the pack of a lesson is made from; `beside` (None: it is not run) is _beside's."""
    found = hashlib.sha256(_program().encode())
    found.update(repr((sorted((key, repr(value)) for key, value in options.items()), beside)).encode())
    try:
        found.update(path.read_bytes())
    except OSError as error:
        found.update(str(error).encode())
    sound = options.get("sound")
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
def _program() -> str:
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


def _standing(out: Path, name: str, made: str) -> tuple[str, ...]:
    """The files of a pack that is still right; none when it must be built."""
    try:
        record = json.loads(_record(out, name).read_text(encoding="utf-8"))
        if record["digest"] != made:
            return ()
        here = _files(out / name)
    except (OSError, ValueError, KeyError, TypeError):
        return ()
    return tuple(record["files"]) if here == record["files"] else ()


def _record(out: Path, name: str) -> Path:
    """Where the record of a pack lies: a name for the folder of packs, then the pack's own."""
    from platformdirs import user_cache_path

    cache = Path(os.environ.get(CACHE) or user_cache_path("vampbook", appauthor=False))
    return cache / hashlib.sha256(str(out.resolve()).encode()).hexdigest()[:24] / f"{name}.json"


def _files(folder: Path) -> dict[str, list[int]]:
    """[size, time of change] of each file of a pack."""
    return {one.name: [one.stat().st_size, one.stat().st_mtime_ns] for one in sorted(folder.iterdir())}


def _build(path: Path, out: Path, options: dict[str, Any], run: bool, made: str) -> Outcome:
    from ..lessons import read_lesson
    from .build import build_pack
    from .run import run_lesson

    name = slug(path.stem)
    try:
        notebook = read_lesson(path)
        if run:
            try:
                notebook = run_lesson(notebook, path.parent)
            except VampError as error:
                raise error.at(": ".join(filter(None, (path.name, error.where)))) from error
        pack = build_pack(notebook, path, out, **options)
        with suppress(VampError):  # a cache that cannot be written costs time, never a pack
            write_whole(_record(out, name), json.dumps({"digest": made, "files": _files(pack.folder)}) + "\n")
        return Outcome(path, pack.folder, pack.files)
    except (VampError, OSError) as error:
        return Outcome(path, out / name, error=str(error))
