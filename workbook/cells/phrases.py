"""Phrases that lie in files: those on a folder's shelf, and those that come from other programs."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from theorylib.changes.charts import Chart
from theorylib.errors import LineError, as_text
from theorylib.levels import Level
from theorylib.limits import whole
from theorylib.names.scales import Scale
from theorylib.necks.tunings import Tuning

from ..exchange.music_files import read_music
from ..exchange.passages import Passage
from ..lesson.facts import Technique
from ..lesson.shelf import FOLDER, Wish, files_in, read_filed, search, table
from .drill import FilePhrase
from .telling import Words


def phrases(words: str = "", *, over: Chart | str | None = None, position: int | None = None,
            level: Level | Literal[""] = "", technique: Technique | str = "",
            folder: str | Path = FOLDER) -> Words:
    """To find a phrase on the shelf: those with some words, or that fit changes or a position.

    They lie in the folder beside the lessons. Each is a text file: TAB or words under a heading (`title:`, `over:`,
    `level:`, `techniques:`). One that fits after a move is shown with the half steps, which `phrase(…, up=…)` takes.
    Raises LineError for a file that cannot be read.

    >>> import tempfile, pathlib
    >>> file = pathlib.Path(tempfile.mkdtemp()) / "dawn.txt"
    >>> _ = file.write_text("title: Dawn\\nover: | Am7 |\\ne A3 C4 E4 G4 h A4")
    >>> phrases(over="| Cm7 |", position=5, folder=file.parent)
    | Phrase | Over | Level | Techniques | Moved | File |
    |---|---|---|---|---|---|
    | Dawn | Am7 | – | – | +3 half steps | dawn.txt |
    """
    here = Path(str(folder))
    if position is not None:
        whole(position, (1, 24), "position")
    said = as_text(words, "row of words", "such as “bends blues”", LineError)
    wish = Wish(said, over, position, level, technique)
    return Words(table(search([read_filed(path) for path in files_in(here)], wish)))


def phrase_from(path: str | Path, over: Chart | str | None = None, *, passage: Passage | str = "",
                position: int | str | None = None, tuning: Tuning | str | None = None,
                key: Scale | str | None = None, quiet: bool = False) -> FilePhrase:
    """To bring in a phrase from a MusicXML or MIDI file; what could not be kept is printed.

    `over` are changes in place of the file's own, `passage` says which notes are meant: "bars 5-8, part Lead, staff 1,
    voice 2" by the file's own names and numbers, "top" for the highest of notes struck together, "octaves -1" to move
    them, "grid 16ths" for the grid of a MIDI file. `position` is that of the hand (None: a free hand). `key` moves the
    phrase from the file's key to another, and lets the lesson be moved; `quiet` prints nothing. Strings, frets and
    fingers that the file gives are kept. Raises MusicFileError and FingeringError, which say where.

    >>> import tempfile, pathlib, workbook.exchange.musicxml
    >>> file = pathlib.Path(tempfile.mkdtemp()) / "walk.musicxml"
    >>> _ = file.write_text(workbook.exchange.musicxml.musicxml_text([arpeggio_drill("| Am7 | D7 |").line]))
    >>> phrase_from(file, passage="bars 1")
    Continuous arpeggio, position 5 over 1 chords, 8 notes
    """
    read = read_music(path, passage, over, tuning=tuning, key=key, position=position)
    said = tuple(map(str, read.said))
    if said and not quiet:
        print("\n".join(said))
    return FilePhrase(read.line, said)
