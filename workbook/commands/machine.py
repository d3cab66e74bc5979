"""What a machine has of what Vampbook uses: libraries, renderer, fonts, memory, cache, JupyterLab."""

from __future__ import annotations

import importlib.util
import os
import platform
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from ..files import cache_folder

NEEDED = ("verovio", "typst", "mistune", "mido", "numpy", "scipy", "soundfile", "pillow", "fonttools", "nbclient",
          "nbconvert", "nbformat", "ipython", "ipykernel")  # without which a lesson is not run or no pack comes out
FONTS = ("manimgx_fonts", "noto_cjk_sans_otc")
LESSON_MB = 2048  # that a lesson may take, as build says it
LAB_SCRIPT = "labextensions/vampbook/package.json"


@dataclass(frozen=True, slots=True)
class Part:
    """One thing that was looked for: what of it is here, and what to do where it lacks."""

    what: str
    found: str
    is_well: bool = True
    is_needed: bool = False
    mend: str = ""


def examined() -> list[Part]:
    """Everything that was looked for, what a pack needs first."""
    return [_python(), *_libraries(), _renderer(), *_fonts(), _memory(), _cache(), *_lab(), _console()]


def _python() -> Part:
    return Part("Python", f"{platform.python_version()} on {platform.system()} {platform.machine()}",
                sys.version_info >= (3, 11), True, "install Python 3.11 or newer")


def _libraries() -> Iterator[Part]:
    lacking = [name for name in NEEDED if not _version(name)]
    there = f"typst {_version('typst')}, verovio {_version('verovio')} and {len(NEEDED) - 2} more"
    found = f"lacking {', '.join(lacking)}" if lacking else there
    yield Part("libraries", found, not lacking, True, f"pip install {' '.join(lacking)}")


def _renderer() -> Part:
    has = importlib.util.find_spec("midirenderer") is not None
    return Part("sound", "sampled instruments" if has else "plain voices by numbers", has,
                mend="pip install midirenderer, where it exists for this machine")


def _fonts() -> Iterator[Part]:
    from ..fonts import FONT_DIR

    own = len(list(FONT_DIR.glob("*.ttf")))
    yield Part("fonts", f"{own} of our own", own > 0, True, "install Vampbook anew")
    lacking = [name for name in FONTS if importlib.util.find_spec(name) is None]
    yield Part("fonts of other scripts", "lacking " + ", ".join(lacking) if lacking else "here", not lacking,
               mend=f"pip install {' '.join(lacking).replace('_', '-')}, or such words stand as codes")


def _memory() -> Part:
    import psutil

    free = psutil.virtual_memory().available / 1e6
    wanted = LESSON_MB + 500
    cores = os.cpu_count() or 1
    return Part("memory", f"{free / 1000:.1f} GB free for {cores} core{'' if cores == 1 else 's'}", free >= wanted,
                mend=f"close other programs, or build with --jobs 1 --memory {max(64, round(free / 2))}")


def _cache() -> Part:
    folder = cache_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        return Part("cache", f"{folder} cannot be written: {error.strerror or error}", False,
                    mend="name another folder in VAMPBOOK_CACHE, or every pack is built anew each time")
    return Part("cache", str(folder))


def _lab() -> Iterator[Part]:
    lab = _version("jupyterlab")
    yield Part("JupyterLab", lab or "not here", bool(lab), mend="pip install jupyterlab, to edit lessons in")
    places = [Path(sys.prefix, "share/jupyter"), Path.home() / ".local/share/jupyter"]
    has = any((place / LAB_SCRIPT).is_file() for place in places)
    yield Part("the menu “Lesson” in it", "here" if has else "not here", has, mend="install Vampbook anew with pip")


def _console() -> Part:
    encoding = (sys.stdout.encoding or "ascii").lower()
    return Part("console", encoding, "utf" in encoding, mend="set PYTHONUTF8=1, to see ♭ and ♯ as they are")


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return ""
