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

from ..exchange.grids import GridName
from ..exchange.music_files import asked, read_music
from ..exchange.score_lines import Wanted
from ..lesson.shelf import FOLDER, files_in, read_filed, search, table
from .drill import FilePhrase
from .telling import Words


def phrases(words: str = "", *, over: Chart | str | None = None, position: int | None = None,
            level: Level | Literal[""] = "", technique: str = "", folder: str | Path = FOLDER) -> Words:
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
    filed = [read_filed(path) for path in files_in(here)]
    return Words(table(search(filed, as_text(words, "row of words", "such as “bends blues”", LineError), over=over,
                              position=position, level=level, technique=technique)))


def phrase_from(path: str | Path, over: Chart | str | None = None, *, from_bar: int | None = None,
                position: int | str | None = None, tuning: Tuning | str | None = None,
                key: Scale | str | None = None, bars: str | int | None = None, part: str | int | None = None,
                staff: int | None = None, voice: str | int | None = None, octaves: int = 0, top: bool = False,
                grid: GridName | None = None, quiet: bool = False) -> FilePhrase:
    """To bring in a phrase from a MusicXML or MIDI file; what could not be kept is printed.

    `over` are changes in place of the file's own, from bar `from_bar` on; `position` is that of the hand (None: a free
    hand). `part` is a name or a number from 1; `staff`, `voice` and `bars` ("5-8") go by the file's own numbers. `key`
    moves the phrase from the file's key to another, and lets the lesson be moved; `octaves` moves all notes, `top`
    keeps the highest of notes struck together, `grid` is that of a MIDI file ("16ths"; None: the one that fits),
    `quiet` prints nothing. Strings, frets and fingers that the file gives are kept. Raises MusicFileError and
    FingeringError, which say where.

    >>> import tempfile, pathlib, workbook.exchange.musicxml
    >>> file = pathlib.Path(tempfile.mkdtemp()) / "walk.musicxml"
    >>> _ = file.write_text(workbook.exchange.musicxml.musicxml_text([arpeggio_drill("| Am7 | D7 |").line]))
    >>> phrase_from(file, bars="1")
    Continuous arpeggio, position 5 over 1 chords, 8 notes
    """
    wanted = asked(Wanted(part, staff, None if voice is None else str(voice), bars, octaves=octaves, top=top),
                   over=over, from_bar=from_bar, tuning=tuning)
    read = read_music(path, wanted, key=key, position=position, grid=grid)
    said = tuple(map(str, read.said))
    if said and not quiet:
        print("\n".join(said))
    return FilePhrase(read.line, said)
