"""The files of a pack: from a run lesson to its handout, page, MIDI, MusicXML and backing track."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from ..draw.screen import WIDTHS
from ..exchange.musicxml import musicxml_text
from ..lesson.door import LessonError
from ..lesson.lesson import Lesson
from ..play.smf import midi_bytes
from .brought import Told
from .own_track import own_track, page_track, told_of
from .page import lesson_page
from .pdf import handout_pdf
from .practice import PageSound
from .printing import told, unprintable
from .tracks import SILENT, Sound, band_of_lesson, track_files
from .tree import has_teachers_cells, tree_of

PAPERS = ("a4", "letter")
Page = Callable[[], str]


def in_turn(make: Page) -> Page:
    """The page made when it is asked for."""
    return make


@dataclass(frozen=True, slots=True)
class Paging:
    """How the page is made: without `bank` it holds no sounds and is drawn for one width of screen.

    `aside` may begin it, half of all the work, while the rest is made; it is asked for the page at last.
    """

    bank: bool = True
    aside: Callable[[Page], Page] = in_turn


WHOLE, BRIEF = Paging(), Paging(bank=False)  # the second is enough for a check


@dataclass(frozen=True, slots=True)
class Pack:
    """A pack before it is written: its files by name, and the tree (tree.tree_of) that its handout was set from."""

    files: Mapping[str, bytes | str]
    tree: Mapping[str, Any]

    def without_glyphs(self) -> Iterator[tuple[int, str]]:
        """(cell number, a word for the teacher) for each cell that the handout cannot show as written; 0: the title."""
        return ((number, told(signs)) for number, signs in unprintable(self.tree).items())

    @property
    def told(self) -> tuple[Told, ...]:
        """What its maker should know of its cells: what is missing, or comes out otherwise than Lab shows it."""
        return tuple(Told(**one) for one in self.tree["told"])

    @property
    def beside(self) -> tuple[str, ...]:
        """The files beside the lesson that it shows, by path from its folder."""
        return tuple(self.tree["files"])


def pack_of(lesson: Lesson, *, paper: str = "a4", large_print: bool = False, sound: Sound = SILENT,
            teacher: bool = False, paging: Paging = WHOLE) -> Pack:
    """The pack of a lesson, from its stored outputs; raises LessonError when it was never run.

    With `teacher` a lesson that has cells for the teacher alone gets a handout with them too.
    """
    if not lesson.was_run:
        raise LessonError(f"{lesson.path} holds no outputs", value=str(lesson.path),
                          expected="a lesson that was run and saved")
    tree, band = tree_of(lesson), sound.band.over(band_of_lesson(lesson))
    track = page_track(lesson, sounds=paging.bank)
    _take_beside(tree, lesson, track)
    heard, widths = PageSound(paging.bank, sound.soundfont, track or band), WIDTHS if paging.bank else WIDTHS[-1:]
    page = paging.aside(lambda: lesson_page(lesson, heard, tree=tree, widths=widths, large_print=large_print))
    files: dict[str, bytes | str] = {
        "handout.pdf": handout_pdf(lesson, paper=paper, large_print=large_print, tree=tree),
        "lesson.html": "",  # in its place among them
    }
    if teacher and has_teachers_cells(lesson):
        whole = tree_of(lesson, teacher=True)
        files["teacher.pdf"] = handout_pdf(lesson, paper=paper, large_print=large_print, tree=whole)
    lines = [line for _, line in lesson.lines]
    if lines:
        files["lesson.mid"] = midi_bytes(lines, title=lesson.title)
        files["lesson.musicxml"] = musicxml_text(lines, title=lesson.title)
    files |= track_files(lesson, sound)
    files["lesson.html"] = page()
    return Pack(files, tree)


def _take_beside(tree: dict[str, Any], lesson: Lesson, track: Mapping[str, Any] | None) -> None:
    """Note in a lesson's tree what it takes of a recording, so that a pack is built anew where that changes."""
    own = own_track(lesson)
    if own is None or track is None:
        return
    tree["files"] = [*tree["files"], *own.files]
    tree["told"] = [*tree["told"], *map(asdict, told_of(own, track, lesson))]
