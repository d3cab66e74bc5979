"""The files of a pack: from a run lesson to its handout, page, MIDI, MusicXML and backing track."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..exchange.musicxml import musicxml_text
from ..lesson.door import LessonError
from ..lesson.stored import lines_in, title_of
from ..play.smf import midi_bytes
from .page import lesson_page
from .pdf import handout_pdf
from .tracks import SILENT, Sound, track_files

PAPERS = ("a4", "letter")


def pack_files(notebook: Mapping[str, Any], path: Path, *, paper: str = "a4",
               large_print: bool = False, sound: Sound = SILENT, bank: bool = True) -> dict[str, bytes | str]:
    """The files of a pack by name, from the notebook's stored outputs; raises LessonError when it was never run.

    Without `bank` the page holds no sounds, which is enough for a check.
    """
    code = [cell for cell in notebook["cells"] if cell.get("cell_type") == "code" and "".join(cell["source"]).strip()]
    if code and not any(cell.get("outputs") for cell in code):
        raise LessonError(f"{path} holds no outputs", value=str(path), expected="a lesson that was run and saved")
    title = title_of(notebook, path)
    files: dict[str, bytes | str] = {
        "handout.pdf": handout_pdf(dict(notebook), paper=paper, large_print=large_print),
        "lesson.html": lesson_page(dict(notebook), soundfont=sound.soundfont, bank=bank),
    }
    lines = [line for _, line in lines_in(notebook)]
    if lines:
        files["lesson.mid"] = midi_bytes(lines, title=title)
        files["lesson.musicxml"] = musicxml_text(lines, title=title)
    return files | track_files(notebook, title, sound)
