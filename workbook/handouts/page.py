"""The lesson as one HTML file with no outside resource: the same tree as the handout, for a screen and a phone.

Everything is escaped; of an SVG figure only what draws goes in (clean.py). Stored figures lie on a light ground of
their own, which a dark page turns; a drill is engraved anew for the screen (stage.py).
"""

from __future__ import annotations

import base64
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from hashlib import sha256
from html import escape
from pathlib import Path
from typing import Any

from theorylib.errors import VampError
from theorylib.playing.lines import Line
from theorylib.practice.ear_text import EarTask

from ..browser.bundle import script
from ..draw.screen import WIDTHS, Width
from ..fonts.web import faces_css
from ..lesson.lesson import Lesson, as_lesson
from ..media.kinds import FILM
from .clean import clean_svg
from .credits import page_credits
from .own_track import page_track
from .policy import policy_tag
from .practice import SOUNDING, PageSound, practice_data
from .stage import Stage, stage_html, stage_parts
from .tracks import band_of_lesson
from .tree import Block, plain_text, slices, tree_of

_HERE = Path(__file__).parent
_STYLE = _HERE / "page.css"
_PRACTICE = _HERE / "practice_page"
BROAD_MM = 150.0
_TAGS = {"strong": "strong", "em": "em", "sub": "sub", "sup": "sup", "kbd": "kbd", "strike": "s", "under": "u",
         "mark": "mark", "small": "small"}


def lesson_page(lesson: Lesson | Mapping[str, Any] | Path, sound: PageSound = SOUNDING, *,
                tree: Mapping[str, Any] | None = None, widths: Sequence[Width] = WIDTHS,
                large_print: bool = False) -> str:
    """The whole page as text: its engraved lines can be practised, drawn for each of some `widths` of screen.

    `tree` is the lesson's own (tree.tree_of) where it was made before. With `large_print` the page opens in large
    print, music and words. The only script is ours, named by its hash in the page's security policy, which lets nothing
    be fetched. Raises HandoutError for a fault in the notebook or an SVG that could run something.
    """
    lesson = as_lesson(lesson)
    tree = tree_of(lesson) if tree is None else tree
    page = _Page(lesson, widths)
    written = [(block, page.block(block)) for block in tree["blocks"]]
    if page.stage.drills:
        parts = stage_parts(written, page.stage)
        about = {**tree["about"], "title": tree["title"], "large_print": large_print}
        under = sound.under or page_track(lesson, sounds=sound.bank) or band_of_lesson(lesson)
        data = practice_data(page.stage.drills, about, page.stage.tasks, replace(sound, under=under))
        foot = page_credits(plays=sound.bank, soundfont=sound.soundfont)
        return _practice_page(tree, {**parts, "foot": foot}, data)
    body = "\n".join(html for _, html in written)
    foot = page_credits(plays=False)
    return _document(tree, f'<main id="lesson">\n{body}\n{foot}</main>\n', _STYLE.read_text(encoding="utf-8"))


def _practice_page(tree: Mapping[str, Any], parts: Mapping[str, str], data: str) -> str:
    source = practice_script()
    style = "".join(path.read_text(encoding="utf-8") for path in (_STYLE, *sorted(_PRACTICE.glob("*.css"))))
    body = (stage_html(parts) + (_PRACTICE / "bar.html").read_text(encoding="utf-8")
            + f'<script type="application/json" id="practice-data">{data}</script>\n<script>{source}</script>\n')
    return _document(tree, body, style, source)


def _document(tree: Mapping[str, Any], body: str, style: str, source: str = "") -> str:
    """The whole file; `source` is its one script, which its policy names."""
    language = escape(str(tree["about"].get("language", "en")))
    return (f'<!DOCTYPE html>\n<html lang="{language}">\n<head>\n<meta charset="utf-8">\n'
            '<meta name="viewport" content="width=device-width, initial-scale=1, viewport-fit=cover">\n'
            '<meta name="color-scheme" content="light dark">\n'
            f"{policy_tag(source)}<title>{escape(tree['title'])}</title>\n<style>\n{faces_css()}{style}</style>\n"
            f"</head>\n<body>\n{body}</body>\n</html>\n")


def practice_script() -> str:
    """The page's own script, all its modules in one."""
    return script(_PRACTICE / "page.js")


class _Page:
    """Writes blocks as HTML, counting figures and headings as it goes."""

    def __init__(self, lesson: Lesson, widths: Sequence[Width] = WIDTHS) -> None:
        self.lesson = lesson
        self.figures = 0
        self.ticks: Counter[str] = Counter()  # how often the words of a box to tick stood before
        self.stage = Stage(widths)

    def blocks(self, blocks: Iterable[Block]) -> list[str]:
        return [self.block(block) for block in blocks]

    def block(self, block: Block) -> str:
        try:
            return getattr(self, "_" + block["t"].replace("-", "_"))(block)
        except VampError as error:
            raise error.at(", ".join(filter(None, (block.get("where"), error.where)))) from error

    def _heading(self, block: Block) -> str:
        return f'<h{block["level"]}{_direction(block)}>{inlines(block["c"])}</h{block["level"]}>'

    def _paragraph(self, block: Block) -> str:
        return f"<p{_direction(block)}{_aligned(block.get('align'))}>{inlines(block['c'])}</p>"

    def _list(self, block: Block) -> str:
        tasks = self._ear(block)
        if tasks:
            return self.stage.hear(tasks)
        tag = "ol" if block["ordered"] else "ul"
        ticked = any(item["box"] is not None for item in block["items"])
        items = []
        for item in block["items"]:
            inside = "".join(inlines(one["c"]) if one["t"] == "paragraph" else self.block(one) for one in item["c"])
            if item["box"] is not None:
                checked = " checked" if item["box"] else ""
                inside = (f'<label><input type="checkbox" data-tick="{self._tick(inside)}"{checked}> '
                          f"<span>{inside}</span></label>")
            items.append(f"<li{_direction(*item['c'][:1])}>{inside}</li>")
        start = f' start="{int(block["start"])}"' if block.get("start") and tag == "ol" else ""
        return f'<{tag}{" class=ticks" if ticked else ""}{start}>{"".join(items)}</{tag}>'

    def _tick(self, words: str) -> str:
        """What a tick is kept by: the box's own words, and which of several with the same words it is."""
        name = sha256(words.encode(errors="surrogatepass")).hexdigest()[:12]
        self.ticks[name] += 1
        return f"{name}-{self.ticks[name]}"

    def _care(self, block: Block) -> str:
        return f'<aside class="care" aria-label="Care">{"".join(self.blocks(block["c"]))}</aside>'

    def _note(self, block: Block) -> str:
        return f"<blockquote>{''.join(self.blocks(block['c']))}</blockquote>"

    def _table(self, block: Block) -> str:
        self.stage.plan(block)
        align = [*map(_aligned, block.get("align", ())), *[""] * 99]
        head = "".join(f'<th scope="col"{side}>{inlines(cell)}</th>'
                       for cell, side in zip(block["head"], align, strict=False))
        rows = "".join("<tr>" + "".join(f"<td{side}>{inlines(cell)}</td>"
                                        for cell, side in zip(row, align, strict=False)) + "</tr>"
                       for row in block["rows"])
        words = escape("Table: " + ", ".join(plain_text(cell) for cell in block["head"] or block["rows"][0]))
        head = f"<thead><tr>{head}</tr></thead>" if head else ""
        return (f'<div class="wide" role="region" tabindex="0" aria-label="{words}"><table>'
                f"{head}<tbody>{rows}</tbody></table></div>")

    def _details(self, block: Block) -> str:
        is_open = " open" if block["open"] else ""
        return (f"<details{is_open}><summary>{inlines(block['summary'])}</summary>"
                f"{''.join(self.blocks(block['c']))}</details>")

    def _columns(self, block: Block) -> str:
        columns = "".join(f"<div>{''.join(self.blocks(column))}</div>" for column in block["columns"])
        return f'<div class="columns">{columns}</div>'

    def _figure(self, block: Block) -> str:
        self.figures += 1
        number = self.figures
        line = self._line(block)
        if line is not None:
            order = 1 + [one for _, one in self.lesson.lines].index(line)
            return self.stage.add(block, number, line, order)
        caption = f"<figcaption>{escape(block['caption'])}</figcaption>" if block["caption"] else ""
        is_broad = "svg" in block and block["width_mm"] >= BROAD_MM
        broad = ' class="broad"' if is_broad else ""  # scrolls sideways on a phone
        if "photo" in block:
            picture = _photo(block)
        else:
            name = f"f{number}"
            parts = slices(block["svg"], block["cuts"], together=True) if block["cuts"] else [(block["svg"], 0.0)]
            drawings = "".join(f'<div class="strip">{clean_svg(svg, name)}</div>' for svg, _ in parts)
            scroll = ' tabindex="0"' if broad else ""
            picture = (f'<div class="picture" id="{name}" role="img" aria-label="{escape(block["alt"])}"{scroll}>'
                       f"{drawings}</div>")
        return (f'<figure id="figure-{number}" data-figure="{number}"{broad} style="max-width:{block["width_mm"]:g}mm">'
                f"{picture}{caption}</figure>")

    def _line(self, block: Block) -> Line | None:
        """The line that a figure engraves, if it is to be played."""
        if "line" not in block:
            return None
        cell, output = block["line"]
        line = self.lesson.cells[cell - 1].outputs[output].line
        if isinstance(line, VampError):
            raise line
        return line if line is not None and line.notes else None

    def _ear(self, block: Block) -> tuple[EarTask, ...]:
        """The tasks for the ear that a list asks, if they are to be played."""
        if "ear" not in block:
            return ()
        cell, output = block["ear"]
        tasks = self.lesson.cells[cell - 1].outputs[output].ear
        if isinstance(tasks, VampError):
            raise tasks
        return tasks or ()

    def _code(self, block: Block) -> str:
        return f'<pre tabindex="0"><code>{escape(block["text"])}</code></pre>'

    def _rule(self, block: Block) -> str:
        return "<hr>"

    def _page_break(self, block: Block) -> str:
        return '<div class="page-break"></div>'


def _direction(block: Block | None = None) -> str:
    return ' dir="rtl"' if block and block.get("rtl") else ""


def inlines(found: Iterable[Block]) -> str:
    """Inline blocks as HTML."""
    parts = []
    for one in found:
        kind = one["t"]
        if kind == "text":
            parts.append(escape(one["text"]))
        elif kind in _TAGS:
            parts.append(f"<{_TAGS[kind]}>{inlines(one['c'])}</{_TAGS[kind]}>")
        elif kind == "mono":
            parts.append(f"<code>{escape(one['text'])}</code>")
        elif kind == "link":
            parts.append(f'<a href="{escape(one["href"])}" rel="noreferrer">{inlines(one["c"])}</a>')
        elif kind == "break":
            parts.append("<br>")
        elif kind == "image":
            parts.append(f'<span class="inline" style="max-width:{one["width_mm"]:g}mm">{_photo(one)}</span>')
        elif kind == "recording":
            parts.append(_recording(one))
    return "".join(parts)


def _photo(block: Block) -> str:
    """A picture as an <img>: its pixels, or a drawing of the teacher's, which an <img> lets neither act nor load."""
    if "photo" in block:
        source, size = f"data:{block['mime']};base64,{block['photo']}", block["size"]
        room = f' width="{size[0]}" height="{size[1]}"'
    else:
        source, room = f"data:image/svg+xml;base64,{base64.b64encode(block['svg'].encode()).decode()}", ""
    return f'<img alt="{escape(block["alt"])}"{room} src="{source}">'


def _recording(block: Block) -> str:
    """A player for a recording, after its words."""
    tag = "video" if block["shows"] == FILM else "audio"
    words = escape(block["words"])
    return (f'<span class="recording"><span>{words}</span> <{tag} controls preload="metadata" aria-label="{words}" '
            f'src="data:{block["mime"]};base64,{block["recording"]}"></{tag}></span>')


def _aligned(side: str | None) -> str:
    return f' style="text-align:{side}"' if side in ("center", "right") else ""
