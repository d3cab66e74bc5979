"""The handout as PDF: the tree set by Typst with our template and faces, tagged for PDF/UA-1, always the same bytes.

First every block is measured at the widths that it may get, then pages are planned (rows.py, page_plan.py), then set.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from ..fonts.scripts import families
from ..lesson.lesson import Lesson
from .columns import items_of
from .credits import DOCUMENT
from .inlines import plain_text
from .look import LARGE, NORMAL, PAPERS, TEXT_MM, Look, Paper
from .outlines import fonts
from .page_plan import PlannedPage, cost_of, planned
from .printed_figures import printed_figure, with_necks
from .printing import printed, texts_of
from .rows import Heights, Laid, key_of, labelled, laid_out, widths_asked
from .slicing import slices
from .table_widths import shared
from .tree import HandoutError, stored, tree_of

Block = dict[str, Any]
_TEMPLATE = Path(__file__).parent / "handout.typ"


def handout_pdf(lesson: Lesson | Mapping[str, Any] | Path, *, paper: str = "a4", large_print: bool = False,
                tree: Mapping[str, Any] | None = None) -> bytes:
    """The PDF of a saved lesson; raises HandoutError for an unknown paper, a fault in it or a missing glyph.

    `tree` is the lesson's own (tree.tree_of) where it was made before.
    """
    tree = tree_of(lesson) if tree is None else tree
    language = str(tree["about"].get("language", "en"))
    sheet = _Sheet(tree["title"], language, _paper(paper), LARGE if large_print else NORMAL)
    return sheet.pdf([("", tree["blocks"])], None)


@dataclass(frozen=True, slots=True)
class Chapter:
    """A lesson of a course: the part it stands in, its tree (tree.tree_of), a line of words for the map, and the
    titles of the lessons that it builds on."""

    part: str
    tree: Mapping[str, Any]
    note: str = ""
    needs: tuple[str, ...] = ()


def course_pdf(title: str, about: str, chapters: Sequence[Chapter], *, paper: str = "a4",
               large_print: bool = False) -> bytes:
    """All lessons of a course in one PDF, with a map and page numbers; raises HandoutError as handout_pdf does."""
    labels = [f"lesson-{number}" for number in range(1, len(chapters) + 1)]
    entries = [{"number": number, "label": label, "title": _words(chapter.tree["title"]), "part": chapter.part,
                "note": _words(chapter.note), "needs": list(chapter.needs)}
               for number, (label, chapter) in enumerate(zip(labels, chapters, strict=True), 1)]
    parts = [{"name": _words(part[:1].upper() + part[1:]), "lessons": [one for one in entries if one["part"] == part]}
             for part in dict.fromkeys(chapter.part for chapter in chapters)]
    cover = {"title": _words(title), "about": _words(about), "parts": parts}
    sheet = _Sheet(title, "en", _paper(paper), LARGE if large_print else NORMAL)
    lessons = [(label, _numbered(chapter.tree["blocks"], number))
               for number, (label, chapter) in enumerate(zip(labels, chapters, strict=True), 1)]
    return sheet.pdf(lessons, cover)


def _words(text: str) -> list[Block]:
    """A text as inlines; none for an empty one."""
    return [{"t": "text", "text": text}] if text else []


def _numbered(blocks: Sequence[Block], number: int) -> list[Block]:
    """The blocks with the number of the lesson before its title."""
    first = next((index for index, block in enumerate(blocks) if block["t"] == "heading"), None)
    if first is None:
        return list(blocks)
    title = blocks[first]
    return [*blocks[:first], {**title, "c": [{"t": "text", "text": f"{number}. "}, *title["c"]]}, *blocks[first + 1:]]


def _paper(name: str) -> Paper:
    if name not in PAPERS:
        raise HandoutError(f"“{name}” is not a paper", value=name, expected=" or ".join(PAPERS))
    return PAPERS[name]


@dataclass(frozen=True, slots=True)
class _Sheet:
    """One PDF in the making."""

    title: str
    language: str
    paper: Paper
    look: Look

    def pdf(self, lessons: Sequence[tuple[str, Sequence[Block]]], cover: Block | None) -> bytes:
        """The PDF of some lessons, each with its label, after the cover of a course if there is one."""
        whole = {"t": "handout", "cover": cover, "lessons": [{"label": label, "blocks": _with_meta(list(blocks))}
                                                             for label, blocks in lessons]}
        faces = families(["".join(sorted(set(text))) for text in texts_of([whole])], self.language)
        shown = printed(whole, self.language)
        prepared = [(one["label"], [self._prepared(block) for block in one["blocks"]]) for one in shown["lessons"]]
        ways = [[(label, with_necks(blocks, share)) for label, blocks in prepared] for share in self.look.neck_shares]
        heights = self._heights([lesson for way in ways for lesson in way], faces)
        plans = [self._planned(way, heights) for way in ways]
        rows, pages = min(plans, key=lambda plan: cost_of([one.row for one in plan[0]], plan[1], self.paper.text_mm))
        content = [{"rows": [rows[index].content(gap, grown, roomy, self.look) for index, gap, grown, roomy in
                             zip(range(page.first, page.end), page.gaps, page.grown, page.roomy, strict=True)]}
                   for page in pages]
        return self._set({"cover": shown["cover"], "pages": content}, faces)

    def _planned(self, lessons: Sequence[tuple[str, Sequence[Block]]],
                 heights: Heights) -> tuple[list[Laid], tuple[PlannedPage, ...]]:
        rows = [row for number, (label, blocks) in enumerate(lessons)
                for row in labelled(laid_out(blocks, self.look, heights, self.paper.text_mm), label,
                                    is_first=number == 0)]
        return rows, planned([row.row for row in rows], self.paper.text_mm)

    def _heights(self, lessons: Sequence[tuple[str, Sequence[Block]]], faces: Sequence[str]) -> Heights:
        """What tells the height of blocks under each other, all measured in one go."""
        asked = {key_of(blocks, width): (blocks, width) for _, lesson in lessons
                 for blocks, width in widths_asked(lesson, self.look)}
        found = self._measured(list(asked.values()), faces)
        known = dict(zip(asked, found, strict=True))

        def one_height(block: Block, width: float) -> float:
            if block["t"] == "part" and not block.get("caption"):
                return float(block["h"])
            if block["t"] == "space":
                return float(block["mm"])
            key = key_of([block], width)
            if key not in known and block["t"] == "list":  # half of a list, whose items were measured
                items = [known.get(key_of([one], width)) for one in items_of(block)]
                if None not in items:
                    known[key] = sum(filter(None, items)) + (len(items) - 1) * self.look.between_items_mm
            if key not in known:
                (known[key],) = self._measured([((block,), width)], faces)
            return known[key]

        def height_of(blocks: Sequence[Block], width: float) -> float:
            apart = self.look.inner * max(0, len(blocks) - 1)
            return sum(one_height(block, width) for block in blocks) + apart

        return height_of

    def _measured(self, asked: Sequence[tuple[Sequence[Block], float]], faces: Sequence[str]) -> list[float]:
        import typst

        if not asked:
            return []
        measure = [{"w": width, "c": [_without_data(block) for block in blocks]} for blocks, width in asked]
        data = self._data({"measure": measure}, faces)
        try:
            told = typst.query(_TEMPLATE.read_bytes(), "<height>", field="value", font_paths=fonts(len(faces) > 1),
                               sys_inputs={"data": data})
        except typst.TypstError as error:
            raise HandoutError(f"the handout could not be set: {error.message}", value=self.title) from error
        return [float(one) for one in json.loads(told)]

    def _set(self, content: Block, faces: Sequence[str]) -> bytes:
        import typst

        try:
            pdf, warnings = typst.compile_with_warnings(
                _TEMPLATE.read_bytes(), font_paths=fonts(len(faces) > 1), format="pdf", pdf_standards=["ua-1"],
                timestamp=0, sys_inputs={"data": self._data(content, faces)})
        except typst.TypstError as error:
            raise HandoutError(f"the handout could not be set: {error.message}", value=self.title) from error
        if warnings:
            raise HandoutError(f"the handout could not be set as written: {warnings[0].message}", value=self.title)
        assert isinstance(pdf, bytes)
        return pdf

    def _data(self, content: Block, faces: Sequence[str]) -> str:
        about = {"title": self.title, "lang": self.language, "credits": DOCUMENT, "font": faces,
                 "look": asdict(self.look), "paper": asdict(self.paper)}
        return json.dumps({**about, **content}, ensure_ascii=False, default=stored)

    def _prepared(self, block: Block) -> Block:
        """A block as the template takes it, with all that it holds: figures in parts; photographs within a drawing,
        which Typst takes as text and prints as they are."""
        found = {key: self._inside(value) for key, value in block.items()}
        if block["t"] in ("figure", "image"):
            if "photo" in block:
                found |= {"svg": _around(block), "photo": ""}
            try:
                if block["t"] == "figure":
                    return printed_figure(found, self.look)
                parts = [part for part, _ in slices(found["svg"], block["cuts"])] if block["cuts"] else [found["svg"]]
            except HandoutError as error:
                raise error.at(block.get("where", "")) from error
            return {**found, "svg": "", "format": "svg", "parts": [{"data": part} for part in parts]}
        if block["t"] == "recording":
            return {**found, "recording": ""}
        if block["t"] == "table":
            return {**found, "shares": shared(found, TEXT_MM, self.look.sans)}
        return found

    def _inside(self, value: Any) -> Any:
        if isinstance(value, dict):
            return self._prepared(value) if "t" in value else {key: self._inside(one) for key, one in value.items()}
        return [self._inside(one) for one in value] if isinstance(value, list) else value


def _with_meta(blocks: list[Block]) -> list[Block]:
    """The words in italics right under a title are set as what they are: the lesson's data in a line."""
    for index, (block, following) in enumerate(pairwise(blocks)):
        if block["t"] == "heading" and block["level"] == 1 and following["t"] == "paragraph":
            inside = following["c"]
            if len(inside) == 1 and inside[0]["t"] == "em" and plain_text(inside).strip():
                return [*blocks[:index + 1], {"t": "meta", "c": inside[0]["c"]}, *blocks[index + 2:]]
    return blocks


def _without_data(block: Any) -> Any:
    """A block without its drawings, of which only the room counts while heights are measured."""
    if isinstance(block, dict):
        return {key: "" if key == "data" and "w" in block else _without_data(value) for key, value in block.items()}
    return [_without_data(one) for one in block] if isinstance(block, list | tuple) else block


def _around(block: Block) -> str:
    wide, high = block["size"]
    return (f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{high}" viewBox="0 0 {wide} {high}">'
            f'<image width="{wide}" height="{high}" href="data:{block["mime"]};base64,{block["photo"]}"/></svg>')

