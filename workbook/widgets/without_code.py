"""The page of a teacher who writes no code: the explorer, and under it a form that makes the lesson and its pack.

It is a notebook's one cell, shown by Voilà without it. A lesson that this page wrote is written anew at the next press
of the button; any other of the same name is left alone, and the page says so.
"""

from __future__ import annotations

import hashlib
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets
from IPython.display import display

from theorylib.errors import VampError
from theorylib.levels import LEVELS

from ..cells.magic import in_folder, output_of
from ..files import FileError, read_bytes
from .explorer import Explorer

_LESSONS, _PACKS = "lessons", "build"
_FIRST = "| Am7 | D7 |"
_FINGER = "44px"  # the least that a finger hits (WCAG 2.5.5)
_FIELD = {"width": "auto", "max_width": "36em", "min_height": _FINGER}
_MAKE = "Make the pack"
_FILES = {"handout.pdf": "Handout to print (PDF)", "lesson.html": "Page for the student, that plays",
          "backing.mp3": "Backing track (MP3)", "lesson.mid": "The line as MIDI", "backing.mid": "The backing as MIDI",
          "lesson.musicxml": "Notation for other programs (MusicXML)"}


class Maker:
    """The explorer over some changes with the form under it; `files` is where the page's server hands files out."""

    def __init__(self, changes: str = _FIRST, files: str = "/voila/files") -> None:
        self.explorer = Explorer(changes)
        self._files = files.rstrip("/")
        self._written: dict[Path, str] = {}  # digest of each lesson as this page wrote it
        words: dict[str, Any] = {"style": {"description_width": "4em"}, "layout": {**_FIELD, "height": _FINGER}}
        self.title = ipywidgets.Text(description="Title", placeholder="Second wind", **words,
                                     continuous_update=False)  # a press of the button never overtakes the last letter
        self.level = ipywidgets.Dropdown(description="For", options=LEVELS, value=LEVELS[0], **words)
        self.track = ipywidgets.Checkbox(True, description="with a backing track (MP3)", indent=False, layout=_FIELD)
        self.large = ipywidgets.Checkbox(description="in large print", indent=False, layout=_FIELD)
        self.button = ipywidgets.Button(description=_MAKE, button_style="primary", layout=_FIELD)
        self.told = ipywidgets.HTML()
        self.button.on_click(lambda _: self.make())

    def _ipython_display_(self) -> None:
        display(self.explorer)
        # What is told stands over the button, where one looks: below it, it would be off a phone's screen.
        display(ipywidgets.VBox([self.title, self.level, self.track, self.large, self.told, self.button]))

    def make(self) -> None:
        """Write the lesson with what is set, run it, build its pack, and say what there is; or what is in the way."""
        self._tell("The lesson is written and its pack built: half a minute, on a slow machine two …")
        self.button.description = "Making the pack …"
        try:
            path = self._lesson()
            pack = Path(_PACKS) / path.stem
            options = [*(["--audio", "mp3", "--minutes", "3"] if self.track.value else []),
                       *(["--large-print"] if self.large.value else [])]
            status, said = output_of(["build", str(path), "--out", str(in_folder(_PACKS)), *options])
            if status:
                self._tell(said.strip().splitlines()[-1] if said.strip() else "The pack could not be built.")
            else:
                self.told.value = self._links(pack)
        except VampError as error:
            self._tell(str(error))
        finally:
            self.button.description = _MAKE

    def _lesson(self) -> Path:
        """The lesson's file, written; raises FileError where another lesson bears the title."""
        if not self.title.value.strip():
            raise FileError("the lesson has no title yet", expected="a title in the field above")
        lesson = self.explorer.lesson(self.title.value.strip(), in_folder(_LESSONS), self.level.value)
        if lesson.path.exists() and self._written.get(lesson.path) != _digest(lesson.path):
            raise FileError(f"there is a lesson “{lesson.path.stem}” already, and it was not made here",
                            value=str(lesson.path), expected="another title")
        lesson.write(new=lesson.path not in self._written)
        self._written[lesson.path] = _digest(lesson.path)
        return lesson.path.resolve()

    def _links(self, pack: Path) -> str:
        there = [name for name in _FILES if (in_folder(pack) / name).is_file()]
        rows = "".join(f'<li><a target="_blank" href="{self._files}/{pack.as_posix()}/{name}">{_FILES[name]}</a></li>'
                       for name in there)
        return (f'<div role="status"><p><b>The pack is ready.</b> It lies in {escape(str(in_folder(pack)))}:</p>'
                f"<ul>{rows}</ul><p>Keep the volume moderate.</p></div>")

    def _tell(self, words: str) -> None:
        self.told.value = f'<p role="status">{escape(words)}</p>'


def _digest(path: Path) -> str:
    return hashlib.sha256(read_bytes(path)).hexdigest()


def make_lessons(changes: str = _FIRST) -> Maker:
    """The page over some changes, for a notebook that Voilà shows."""
    return Maker(changes)
