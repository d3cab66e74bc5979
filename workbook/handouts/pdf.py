"""The handout as PDF: the tree set by Typst with our template and font, tagged for PDF/UA-1, always the same bytes."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..fonts.scripts import families
from ..lesson.lesson import Lesson
from .credits import DOCUMENT
from .outlines import fonts
from .printing import printed, texts_of
from .tree import HandoutError, slices, tree_of

PAPERS = {"a4": "a4", "letter": "us-letter"}
_TEMPLATE = Path(__file__).parent / "handout.typ"


def handout_pdf(lesson: Lesson | Mapping[str, Any] | Path, *, paper: str = "a4", large_print: bool = False,
                tree: Mapping[str, Any] | None = None) -> bytes:
    """The PDF of a saved lesson; raises HandoutError for an unknown paper, a fault in it or a missing glyph.

    `tree` is the lesson's own (tree.tree_of) where it was made before.
    """
    tree = tree_of(lesson) if tree is None else tree
    lessons = [{"label": "lesson-1", "blocks": tree["blocks"]}]
    return _set({"title": tree["title"], "lang": str(tree["about"].get("language", "en")), "cover": None,
                 "lessons": lessons}, paper, large_print)


@dataclass(frozen=True, slots=True)
class Chapter:
    """A lesson of a course: the part it stands in, its tree (tree.tree_of) and a line of words for the contents."""

    part: str
    tree: Mapping[str, Any]
    note: str = ""


def course_pdf(title: str, about: str, chapters: Sequence[Chapter], *, paper: str = "a4",
               large_print: bool = False) -> bytes:
    """All lessons of a course in one PDF, with contents and page numbers; raises HandoutError as handout_pdf does."""
    labels = [f"lesson-{number}" for number in range(1, len(chapters) + 1)]
    parts = [{"name": _words(part[:1].upper() + part[1:]), "lessons": [
        {"number": number, "label": label, "title": _words(chapter.tree["title"]), "note": _words(chapter.note)}
        for number, (label, chapter) in enumerate(zip(labels, chapters, strict=True), 1) if chapter.part == part]}
        for part in dict.fromkeys(chapter.part for chapter in chapters)]
    lessons = [{"label": label, "blocks": chapter.tree["blocks"]}
               for label, chapter in zip(labels, chapters, strict=True)]
    cover = {"title": _words(title), "about": _words(about), "parts": parts}
    return _set({"title": title, "lang": "en", "cover": cover, "lessons": lessons}, paper, large_print)


def _words(text: str) -> list[dict[str, Any]]:
    """A text as inlines; none for an empty one."""
    return [{"t": "text", "text": text}] if text else []


def _set(data: dict[str, Any], paper: str, large_print: bool) -> bytes:
    import typst

    if paper not in PAPERS:
        raise HandoutError(f"“{paper}” is not a paper", value=paper, expected=" or ".join(PAPERS))
    shown = {"cover": data["cover"], "lessons": data["lessons"]}
    faces = families(["".join(sorted(set(text))) for text in texts_of(shown)], data["lang"])
    shown = printed({"t": "handout", **shown}, data["lang"])
    for lesson in shown["lessons"]:
        lesson["blocks"] = [_prepared(block) for block in lesson["blocks"]]
    data |= {**shown, "credits": DOCUMENT, "paper": PAPERS[paper], "large": large_print, "font": faces}
    try:
        pdf, warnings = typst.compile_with_warnings(
            _TEMPLATE.read_bytes(), font_paths=fonts(len(faces) > 1), format="pdf", pdf_standards=["ua-1"],
            timestamp=0, sys_inputs={"data": json.dumps(data, ensure_ascii=False)})
    except typst.TypstError as error:
        raise HandoutError(f"the handout could not be set: {error.message}", value=data["title"]) from error
    if warnings:
        raise HandoutError(f"the handout could not be set as written: {warnings[0].message}", value=data["title"])
    assert isinstance(pdf, bytes)
    return pdf


def _prepared(block: dict[str, Any]) -> dict[str, Any]:
    """A block as the template takes it, with all that it holds: figures in one part, or in slices where a page may
    break between systems; photographs within a drawing, which Typst takes as text and prints as they are."""
    found = {key: _prepared_inside(value) for key, value in block.items()}
    if block["t"] in ("figure", "image"):
        if "photo" in block:
            found |= {"svg": _around(block), "photo": ""}
        try:
            svg = found["svg"]
            parts = [part for part, _ in slices(svg, block["cuts"])] if block["cuts"] else [svg]
        except HandoutError as error:
            raise error.at(block.get("where", "")) from error
        return {**found, "svg": "", "format": "svg", "parts": [{"data": part} for part in parts]}
    if block["t"] == "recording":
        return {**found, "recording": ""}
    return found


def _prepared_inside(value: Any) -> Any:
    if isinstance(value, dict):
        return _prepared(value) if "t" in value else {key: _prepared_inside(one) for key, one in value.items()}
    return [_prepared_inside(one) for one in value] if isinstance(value, list) else value


def _around(block: dict[str, Any]) -> str:
    wide, high = block["size"]
    return (f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{high}" viewBox="0 0 {wide} {high}">'
            f'<image width="{wide}" height="{high}" href="data:{block["mime"]};base64,{block["photo"]}"/></svg>')
