"""A lesson's blocks as rows for the page plan: what stands side by side, what stays together, what may be widened.

It goes by kinds of blocks alone: short texts under neighbouring headings share a row, a run of paragraphs or a list
stands in two columns, necks stand in pairs under one legend, a small picture beside the words that follow it. Large
print has one column.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from .air import most_air, with_air
from .columns import WORDS, balanced, is_headed, items_of, joined, runs, words_first
from .look import BETWEEN_MM, HALF_MM, TEXT_MM, Look
from .page_plan import Row
from .printed_figures import Block, legend_part

Heights = Callable[[Sequence[Block], float], float]  # of blocks under each other at a width, in mm
_ITEM_MM, _PAIRED_MM = 26.0, 80.0     # the most of an item that stays by its neighbour; of a section beside another
_LED_MM = 62.0                         # the most of a list that stays with them: ten items of a line or two
TABLE_MM = TEXT_MM * 0.58                # of a table beside a note of care
CARE_MM = TEXT_MM - BETWEEN_MM - TABLE_MM
_BARE_MM = 4.0                            # of a neck's picture that is empty at its sides
_NAME_MM = 44.0                           # the least for the name of a neck at its left
_WIDER = 2.0                              # the most of a gap in large print, whose rows are fewer and higher
_SAVES = 0.86                         # two columns must be that much lower than one
# Kind of row: (least, most) gap before it in mm.
GAPS = {"title": (0.0, 0.0), "section": (4.6, 16.0), "sub": (3.0, 6.0), "text": (2.7, 5.0), "under": (1.2, 3.2),
        "table": (2.2, 6.0), "figure": (2.6, 11.0), "system": (1.6, 11.0), "neck": (2.6, 12.0), "lesson": (14.0, 22.0),
        "item": (2.2, 5.0)}


@dataclass(frozen=True, slots=True)
class Column:
    width: float
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Laid:
    """A row with what stands in it; `kind` is a key of GAPS, `roomy` the other, taller way to set it, if any."""

    columns: tuple[Column, ...]
    kind: str
    row: Row
    label: str = ""
    roomy: tuple[Column, ...] = ()

    def content(self, gap: float, grown: float, roomy: bool, look: Look) -> dict[str, Any]:
        """As the template takes it, set so much higher (mm) than it must be, or its taller way."""
        cols = [{"w": column.width, "c": [with_air(block, grown, look) for block in column.blocks]}
                for column in (self.roomy if roomy else self.columns)]
        return {"cols": cols, "gap": gap, "flows": self.row.flows, "label": self.label}


def widths_asked(blocks: Iterable[Block], look: Look) -> Iterator[tuple[tuple[Block, ...], float]]:
    """(blocks, width) of all that the rows of some blocks will ask the height of, so that it is measured at once."""
    beside = {TEXT_MM - BETWEEN_MM - part["w"] for block in blocks for part in block.get("parts", ())
              if _is_small(block, look)}
    for block in blocks:
        if block["t"] == "figure":
            if block["kind"] == "neck" and not look.columns:
                part = block["parts"][0]
                yield ({"t": "label", "text": part["caption"]},), TEXT_MM - BETWEEN_MM - part["w"]
            for part in block["parts"]:
                yield from (((part,), width) for width in (TEXT_MM, HALF_MM, part["w"]) if part.get("caption"))
            if block.get("head"):
                yield (block["head"],), TEXT_MM
        elif block["t"] != "page-break":
            yield from (((block,), width) for width in _widths(block, look, beside))
            if look.columns:
                yield from (((one,), HALF_MM) for one in items_of(block))


def _widths(block: Block, look: Look, beside: set[float]) -> Iterator[float]:
    """The widths that a block of words may be set at."""
    yield TEXT_MM
    if not look.columns:
        return
    if block["t"] in (*WORDS, "heading"):
        yield HALF_MM
        yield from sorted(beside)
    elif block["t"] == "table":
        yield TABLE_MM
    elif block["t"] == "care":
        yield CARE_MM


def key_of(blocks: Sequence[Block], width: float) -> tuple[str, float]:
    """What a height is kept by."""
    return json.dumps(blocks, sort_keys=True, ensure_ascii=False, default=str), round(width, 2)


def laid_out(blocks: Sequence[Block], look: Look, height_of: Heights, page_mm: float) -> list[Laid]:
    """The rows of a lesson in its order."""
    rows = _Rows(look, height_of, page_mm, _roles(blocks))
    sections = _sections(blocks)
    index = 0
    while index < len(sections):
        if index + 1 < len(sections) and rows.paired(sections[index], sections[index + 1]):
            index += 2
        else:
            rows.section(sections[index])
            index += 1
    return rows.found


def _sections(blocks: Sequence[Block]) -> list[list[Block]]:
    """The blocks by headings of the second level; what stands before the first is one of its own."""
    found: list[list[Block]] = [[]]
    for block in blocks:
        starts = block["t"] == "heading" and block["level"] <= 2
        if starts and found[-1] and found[-1][-1]["t"] != "page-break":
            found.append([])
        found[-1].append(block)
    return found


def _roles(blocks: Iterable[Block]) -> list[str]:
    return [role for block in blocks for role in (block.get("legend") or {}).get("roles", ())]


def _is_small(block: Block, look: Look) -> bool:
    """A picture in one part that leaves room for words beside it."""
    return (look.columns and block["t"] == "figure" and block.get("kind") in ("neck", "picture")
            and len(block["parts"]) == 1 and block["parts"][0]["w"] <= TEXT_MM - BETWEEN_MM - 60)


class _Rows:
    """Collects the rows of one lesson; short-lived."""

    def __init__(self, look: Look, height_of: Heights, page_mm: float, roles: list[str]) -> None:
        self.look, self.height_of, self.page_mm, self.roles = look, height_of, page_mm, roles
        self.found: list[Laid] = []
        self.drills = 0
        self.legend_due = bool(roles)
        self.glue = False      # the next row stays with the one before
        self.is_led = False    # the words before it lead to it
        self.new_page = False

    # -- rows ----------------------------------------------------------------------------------------------------
    def add(self, columns: Sequence[Column], kind: str, *, drill: int = 0, flows: bool = False,
            roomy: Sequence[Column] = ()) -> None:
        height, taller = (max((self.height_of(column.blocks, column.width) for column in way), default=0.0)
                          for way in (columns, roomy))
        least, most = GAPS[kind]
        least = {"text": self.look.inner, "item": self.look.between_items_mm}.get(kind, least)
        elastic = most_air(block for column in columns for block in column.blocks)
        row = Row(height, least, most * (1.0 if self.look.columns else _WIDER), elastic, max(0.0, taller - height),
                  glued=self.glue, drill=drill, opens_badly=kind == "sub" or self.is_led, flows=flows,
                  new_page=self.new_page and bool(self.found))
        self.found.append(Laid(tuple(columns), kind, row, roomy=tuple(roomy)))
        self.glue = self.is_led = self.new_page = False

    def one(self, blocks: Sequence[Block], kind: str, *, drill: int = 0, flows: bool = False) -> None:
        self.add([Column(TEXT_MM, tuple(blocks))], kind, drill=drill, flows=flows)

    # -- sections --------------------------------------------------------------------------------------------------
    def paired(self, one: Sequence[Block], two: Sequence[Block]) -> bool:
        """Set two short sections side by side where that is lower: all of the first, the words that open the second."""
        if not self.look.columns or not (is_headed(one) and is_headed(two)):
            return False
        lead = two[:1 + words_first(two[1:])]
        if len(lead) < 2 or not all(block["t"] in ("paragraph", "list", "heading") for block in (*one, *lead)):
            return False
        left, right = (self.height_of(blocks, HALF_MM) for blocks in (one, lead))
        apart = self.height_of(one, TEXT_MM) + self.height_of(lead, TEXT_MM) + GAPS["section"][0]
        if max(left, right) > min(_PAIRED_MM, _SAVES * apart):
            return False
        space = {"t": "space", "mm": GAPS["section"][0]}
        self.add([Column(HALF_MM, tuple(one)), Column(HALF_MM, tuple(lead))], "section",
                 roomy=[Column(TEXT_MM, (*one, space, *lead))])
        rest = list(two[len(lead):])
        if rest and rest[0]["t"] in ("figure", "table"):
            self.leads(self.height_of(lead[1:], HALF_MM))
        self.body(rest)
        return True

    def section(self, blocks: Sequence[Block]) -> None:
        rest = list(blocks)
        opening = []
        if rest and rest[0]["t"] == "heading":
            opening.append(rest.pop(0))
        if opening and opening[0]["level"] == 1:
            if rest and rest[0]["t"] == "meta":
                opening.append(rest.pop(0))
            self.one(opening, "title" if not self.found else "lesson")
            self.glue = True  # a lesson of a course may begin in the middle of a page, its title not at its foot
        elif opening:
            self.one(opening, "section")
            self.glue = True
        self.body(rest)

    def body(self, blocks: list[Block]) -> None:
        """What stands under a heading, in order."""
        index = 0
        while index < len(blocks):
            index += self.next_of(blocks, index)

    def next_of(self, blocks: list[Block], index: int) -> int:
        """Set the row that begins with a block; how many blocks it took."""
        block = blocks[index]
        kind = block["t"]
        if kind == "page-break":
            self.new_page = not block.get("soft", False)
            return 1
        if kind == "heading":
            self.one([block], "sub")
            self.glue = True
            return 1
        if kind == "figure":
            return self.figure(blocks, index)
        if kind == "table":
            return self.table(blocks, index)
        if kind in WORDS:
            return self.texts(blocks, index)
        self.is_led = kind == "care" and index > 0 and blocks[index - 1]["t"] == "table"
        self.one([block], "text", flows=kind not in ("care", "columns"))
        return 1

    # -- figures ---------------------------------------------------------------------------------------------------
    def figure(self, blocks: list[Block], index: int) -> int:
        block = blocks[index]
        if block["kind"] == "neck":
            self.legend()
            pair = self._neck_pair(blocks, index)
            if pair:
                left = self._left_of(*(one["parts"][0]["w"] for one in pair))
                columns = zip((left, TEXT_MM - BETWEEN_MM - left), pair, strict=True)
                self.add([Column(width, tuple(one["parts"])) for width, one in columns], "neck")
                return 2
            if not self.look.columns and block["parts"][0]["w"] <= TEXT_MM - BETWEEN_MM - _NAME_MM:
                self.named_beside(block["parts"][0])
                return 1
        if _is_small(block, self.look):
            taken = self.beside(blocks, index)
            if taken:
                return taken
        self.parts(block)
        return 1

    def named_beside(self, part: Block) -> None:
        """A neck with its name at its left, and so lower than with the name over it."""
        name = {"t": "label", "text": part["caption"]}
        left = TEXT_MM - BETWEEN_MM - part["w"]
        self.add([Column(left, (name,)), Column(part["w"], ({**part, "caption": ""},))], "figure",
                 roomy=[Column(TEXT_MM, (part,))])

    def _neck_pair(self, blocks: list[Block], index: int) -> list[Block]:
        pair = blocks[index:index + 2]
        are_necks = len(pair) == 2 and all(one["t"] == "figure" and one.get("kind") == "neck" for one in pair)
        fits = are_necks and sum(one["parts"][0]["w"] for one in pair) <= TEXT_MM - BETWEEN_MM + _BARE_MM
        return pair if fits and self.look.columns else []

    def _left_of(self, one: float, two: float) -> float:
        """How wide the left column of two necks is: half, but where one of them needs more."""
        if max(one, two) <= HALF_MM + _BARE_MM:
            return HALF_MM
        return one if one > two else TEXT_MM - BETWEEN_MM - two + _BARE_MM

    def legend(self) -> None:
        """The legend once, before the first neck, with every sign that the lesson shows."""
        if self.legend_due:
            self.legend_due = False
            self.one([legend_part(self.roles, self.look)], "text")
            self.glue = True

    def beside(self, blocks: list[Block], index: int) -> int:
        """A small picture at the left and the words that follow it at its right, as many as stand there."""
        part = blocks[index]["parts"][0]
        width = TEXT_MM - BETWEEN_MM - part["w"]
        room = self.height_of([part], TEXT_MM) * 1.25
        words: list[Block] = []
        for block in blocks[index + 1:]:
            if block["t"] not in ("paragraph", "list") or self.height_of([*words, block], width) > room:
                break
            words.append(block)
        following = blocks[index + 1 + len(words):index + 2 + len(words)]
        if words and words[-1]["t"] == "paragraph" and following and following[0]["t"] in ("list", "table"):
            words.pop()  # it leads to what follows
        if not words:
            return 0
        self.add([Column(part["w"], (part,)), Column(width, tuple(words))], "figure")
        return 1 + len(words)

    def parts(self, block: Block) -> None:
        is_whole = len(block["parts"]) > 1  # a drill's systems, an outline's phrases
        if is_whole:
            self.drills += 1
        for number, part in enumerate(block["parts"]):
            kind = "figure" if number == 0 else "system"
            head = [block["head"]] if number == 0 and block.get("head") else []
            self.one([*head, part], kind, drill=self.drills if is_whole else 0)

    def leads(self, words_mm: float) -> None:
        """What follows stays with the words that lead to it; where they are long, better there than on a new page."""
        self.glue = words_mm <= self.look.lead
        self.is_led = True

    def leads_to_list(self, words: Block, items: Block) -> None:
        """A list stays on the page of the few words over it, but for one so long that a page would stand half empty."""
        self.leads(self.height_of([words], TEXT_MM))
        self.glue = self.glue and self.height_of([items], TEXT_MM) <= _LED_MM

    # -- words -----------------------------------------------------------------------------------------------------
    def table(self, blocks: list[Block], index: int) -> int:
        """A table, with a note of care at its right where both fit."""
        table, beside = blocks[index], blocks[index + 1:index + 2]
        if beside and beside[0]["t"] == "care" and self.look.columns and len(table["head"]) <= 4:
            columns = [Column(TABLE_MM, (table,)), Column(CARE_MM, tuple(beside))]
            if self.height_of(beside, CARE_MM) < 1.8 * self.height_of([table], TABLE_MM):
                self.add(columns, "table", roomy=[Column(TEXT_MM, (table, {"t": "space", "mm": 2.0}, *beside))])
                return 2
        high = self.height_of([table], TEXT_MM)
        self.one([table], "table", flows=high > self.page_mm * 0.5)
        return 1

    def texts(self, blocks: list[Block], index: int) -> int:
        """A run of words: in two columns where that is lower, else each by itself."""
        count = words_first(blocks[index:])
        run = blocks[index:index + count]
        following = blocks[index + count]["t"] if index + count < len(blocks) else ""
        leads = following in ("figure", "table") and run[-1]["t"] == "paragraph"
        for start, end in runs(run[:len(run) - leads]):
            if start > 0 and run[start]["t"] == "list":
                self.leads_to_list(run[start - 1], run[start])
            if end - start > 1 or run[start]["t"] == "list":
                self.columns(run[start:end])
            else:
                self.words(run[start])
        if leads:
            self.words(run[-1])
            self.leads(self.height_of([run[-1]], TEXT_MM))
        return count

    def words(self, block: Block) -> None:
        high = self.height_of([block], TEXT_MM)
        if high > self.page_mm * (0.4 if self.look.columns else 0.15) and len(items_of(block)) > 1:
            self.items(items_of(block))
            return
        after_heading = bool(self.found) and self.found[-1].kind in ("section", "sub") and self.glue
        self.one([block], "under" if after_heading else "text", flows=high > self.page_mm * 0.4)

    def items(self, items: Sequence[Block]) -> None:
        """A long list, whose items go on over a page; not its first alone, nor its last."""
        is_led = self.is_led
        for number, item in enumerate(items):
            at_an_end = number in (1, len(items) - 1)
            self.glue = self.glue or (at_an_end and self.height_of([item], TEXT_MM) <= _ITEM_MM)
            self.is_led = is_led and number == 0
            self.one([item], "item", flows=True)

    def columns(self, run: Sequence[Block]) -> None:
        sides = self._sides(run)
        if sides is None:
            for block in run:
                self.words(block)
            return
        after_heading = bool(self.found) and self.found[-1].kind in ("section", "sub") and self.glue
        self.add([Column(HALF_MM, tuple(side)) for side in sides], "under" if after_heading else "text",
                 roomy=[Column(TEXT_MM, tuple(run))])

    def _sides(self, run: Sequence[Block]) -> list[list[Block]] | None:
        """What stands in the left column and in the right; None where two columns are no better than one."""
        pieces = items_of(run[0]) if run[0]["t"] == "list" else list(run)
        whole = sum(self.height_of([one], TEXT_MM) for one in run) + self.look.inner * (len(run) - 1)
        may_cut = self.look.columns and len(pieces) > 1
        cut = balanced([self.height_of([piece], HALF_MM) for piece in pieces]) if may_cut else 0
        is_long = whole > self.page_mm * 0.6
        if not cut or is_long:
            return None
        sides = [joined(pieces[:cut]), joined(pieces[cut:])]
        high = max(self.height_of(side, HALF_MM) for side in sides)
        saves_little = high > whole * _SAVES
        is_short = whole < 3 * self.look.text * 0.55
        return None if saves_little or is_short else sides


def labelled(rows: list[Laid], label: str, *, is_first: bool) -> list[Laid]:
    """The rows with a label on the first, by which the map of a course finds its page; a lesson after the first keeps
    its distance where it begins in the middle of a page."""
    if not rows:
        return rows
    least, most = GAPS["title" if is_first else "lesson"]
    begins = replace(rows[0], label=label, row=replace(rows[0].row, least=least, most=most))
    return [begins, *rows[1:]]
