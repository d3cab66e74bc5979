"""The practice page's own order: title and changes, the drill with its score and neck, plan and log, the text folded.

What it shows of a line is engraved from the line as it is stored, once for each width of screen (draw.screen).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from html import escape
from pathlib import Path
from string import Template

from theorylib.limits import TEMPO
from theorylib.playing.lines import Line
from theorylib.practice.ear_text import EarTask

from ..draw.score import about
from ..draw.screen import WIDTHS, Width, staves_in
from ..draw.spoken import spoken_bars, summary
from .clean import clean_svg
from .practice import Drill, moments_of
from .remembered import screen_of
from .tree import Block, plain_text

_FOLDER = Path(__file__).parent / "practice_page"
_TEMPO = re.compile(r"\d{1,3}")


@dataclass(slots=True)
class Stage:
    """The drills of a page as its blocks are read: what each shows, and the tempos of the plan that follows it."""

    widths: Sequence[Width] = WIDTHS
    drills: list[Drill] = field(default_factory=list)
    pictures: list[str] = field(default_factory=list)
    tasks: list[EarTask] = field(default_factory=list)

    def add(self, block: Block, number: int, line: Line, order: int) -> str:
        """Take a drill's figure onto the stage; what stands for it in the text is its button."""
        scores = screen_of(line, moments_of(line), staves_in(block.get("svg", "")), self.widths)
        self.drills.append(Drill(number, line, scores, order=order))
        name = escape(line.title or "this line")
        self.pictures.append(_picture(self.drills[-1], block, is_first=not self.pictures))
        return (f'<p class="tools"><button type="button" data-play="{number}" data-name="{name}" '
                f'aria-label="Play this: {name}">Play this</button> <span data-minutes="{number}">0.0 min</span></p>')

    def hear(self, tasks: Sequence[EarTask]) -> str:
        """Take tasks for the ear onto the page: what is asked, and buttons to hear, to answer and to have it told."""
        first = len(self.tasks)
        self.tasks += tasks
        items = "".join(f"<li>{_task(task, first + number)}</li>" for number, task in enumerate(tasks))
        return f'<ol class="ear">{items}</ol>\n<p class="ear-count" role="status"></p>'

    def plan(self, block: Block) -> None:
        """A table of tempos is the plan of the drills before it that have none yet."""
        head = [plain_text(cell) for cell in block["head"]]
        if len(head) < 2 or head[0] != "Step" or not head[1].startswith("Tempo"):
            return
        words = [plain_text(row[1]).strip() for row in block["rows"] if len(row) > 1]
        tempos = tuple(int(word) for word in words if _TEMPO.fullmatch(word) and TEMPO[0] <= int(word) <= TEMPO[1])
        self.drills = [drill if drill.tempos else replace(drill, tempos=tempos) for drill in self.drills]


def stage_parts(written: Iterable[tuple[Block, str]], stage: Stage) -> Mapping[str, str]:
    """The parts of the page's body as HTML (head, drills, care and text) of its blocks, each with its own HTML."""
    head: list[str] = []
    care: list[str] = []
    parts: list[tuple[str, list[str]]] = [("", [])]  # (the part's heading, what is folded under it)
    for block, html in written:
        is_title = block["t"] == "heading" and block["level"] == 1 and not head
        if is_title or (head and block["t"] == "paragraph" and len(parts) == 1 and not parts[0][1]):
            head.append(html)
        elif block["t"] == "heading" and block["level"] == 2:
            parts.append((html, []))
        elif block["t"] == "care" and not care:
            care.append(html)
        else:
            parts[-1][1].append(html)
    return {"head": "\n".join(head), "care": "\n".join(care), "drills": "\n".join(stage.pictures),
            "text": "\n".join(_folded(parts))}


def stage_html(parts: Mapping[str, str]) -> str:
    """The page's body but for its controls and scripts."""
    return Template((_FOLDER / "stage.html").read_text(encoding="utf-8")).substitute(parts)


def _folded(parts: Iterable[tuple[str, list[str]]]) -> Iterable[str]:
    for heading, inside in parts:
        words = "\n".join(inside)
        yield f"<details><summary>{heading}</summary>\n{words}\n</details>" if heading else words


def _picture(drill: Drill, block: Block, *, is_first: bool) -> str:
    """A drill's figure; all but the first are laid out only when they are chosen. Its title is for paper."""
    name = f"f{drill.number}"
    scores = "".join(f'<div class="score" data-width="{one.name}" id="{name}-{one.name}">'
                     f'{clean_svg(one.svg, f"{name}-{one.name}")}</div>' for one in drill.scores)
    title = " · ".join(filter(None, (drill.line.title, about(drill.line))))
    caption = f"<figcaption>{escape(block['caption'])}</figcaption>" if block["caption"] else ""
    hidden = "" if is_first else " hidden"
    return (f'<figure class="music" id="figure-{drill.number}" data-figure="{drill.number}"{hidden}>'
            f'<p class="printed">{escape(title)}</p>'
            f'<div class="picture" role="img" aria-label="{escape(summary(drill.line))}" aria-details="{name}-words">'
            f'{scores}</div><div class="over"></div>{caption}{_in_words(drill.line, f"{name}-words")}</figure>')


def _in_words(line: Line, name: str) -> str:
    """Every note of a line in words, bar by bar, folded: what a picture's short label leaves out."""
    bars = "".join(f"<p>{escape(bar)}</p>" for bar in spoken_bars(line))
    return f'<details class="in-words" id="{name}"><summary>In words, bar by bar</summary>{bars}</details>'


def _task(task: EarTask, number: int) -> str:
    """A task with its buttons; without script only what is asked is left."""
    choices = "".join(f'<button type="button" data-choice="{place}" aria-pressed="false">{escape(one)}</button>'
                      for place, one in enumerate(task.choices))
    asked = escape(task.asks)
    return (f'<div data-ear="{number}" role="group" aria-label="{asked}"><p>{asked}</p><div class="acts tools">'
            f'<button type="button" data-hear="">Hear</button>{choices}'
            '<button type="button" data-reveal="">Reveal</button></div><p class="told" role="status"></p></div>')
