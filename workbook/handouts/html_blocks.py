"""HTML that stands in a lesson's Markdown as blocks of its own: the few elements that Lab users write.

`<details>`, `<div>`, `<p>`, lists, tables, quotes, headings, `<pre>`, `<figure>`, and within them the forms of words of
inlines.py. What is opened may hold Markdown and be closed in a later piece of HTML. Everything else stays as typed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from html import unescape
from typing import Any

from .brought import Block, Place
from .inlines import DEEPEST, TAG, Words, attributes_of, inline_tag, plain_text, tell_lost, tell_typed

_PLAIN = ("p", "div", "center", "section", "article", "header", "footer", "main", "figure", "dl", "dd", "thead",
          "tbody", "tfoot", "colgroup", "caption")
_HEADINGS = {f"h{level}": level for level in range(1, 7)}
_HOLDERS = frozenset((*_PLAIN, *_HEADINGS, "details", "summary", "ul", "ol", "li", "blockquote", "table", "tr", "td",
                      "th", "pre", "figcaption", "dt"))
_ENDS_ITSELF = {"li": ("li",), "tr": ("tr", "td", "th"), "td": ("td", "th"), "th": ("td", "th"), "p": ("p",)}
_ALIGNED = ("left", "center", "right")


@dataclass
class _Holder:
    name: str
    attributes: Mapping[str, str]
    blocks: list[Block] = field(default_factory=list)


class Body:
    """Blocks being read, from Markdown (`add`) and from HTML (`html`)."""

    def __init__(self, place: Place) -> None:
        self.place = place
        self.holders = [_Holder("", {})]
        self.words: Words | None = None

    def add(self, *blocks: Block) -> None:
        self._end_paragraph()
        self.holders[-1].blocks.extend(blocks)

    def html(self, raw: str) -> None:
        at = 0
        last_comment_ends = raw.rfind("-->")
        while at < len(raw):
            begin = raw.find("<", at)
            if begin < 0:
                break
            self._text(raw[at:begin])
            if raw.startswith("<!--", begin) and begin < last_comment_ends:
                at = raw.index("-->", begin) + 3
                continue
            tag = TAG.match(raw, begin)
            at = tag.end() if tag else begin + 1
            if tag is None or not self._tag(tag["name"].lower(), bool(tag["close"]), attributes_of(tag["rest"])):
                if tag:
                    tell_typed(self.place, tag["name"].lower())
                self._text(raw[begin:at], typed=True)
        self._text(raw[at:])

    def done(self) -> list[Block]:
        while len(self.holders) > 1:
            self._end_holder()
        self._end_paragraph()
        return [one for block in self.holders[0].blocks for one in _settled(block)]

    # -- words -------------------------------------------------------------------------------------------------------
    def _text(self, raw: str, typed: bool = False) -> None:
        in_pre = any(one.name == "pre" for one in self.holders)
        if self.words is None and not raw.strip() and not in_pre:
            return
        written = raw if typed else unescape(raw)
        self._now().words(written if in_pre else _with_single_spaces(written))

    def _now(self) -> Words:
        if self.words is None:
            self.words = Words(self.place)
        return self.words

    def _end_paragraph(self) -> None:
        if self.words is None:
            return
        found, self.words = self.words.done(), None
        if found and found[-1]["t"] == "text":
            found[-1]["text"] = found[-1]["text"].rstrip(" ")
        if any(one["t"] in ("image", "recording") for one in found) or plain_text(found).strip():
            self.holders[-1].blocks.append({"t": "paragraph", "c": found})

    # -- elements ----------------------------------------------------------------------------------------------------
    def _tag(self, name: str, closes: bool, attributes: Mapping[str, str]) -> bool:
        if name in _HOLDERS:
            if closes:
                self._close(name)
            else:
                self._open(name, attributes)
            return True
        if name == "hr":
            self.add({"t": "rule"})
            return True
        if name in ("col", "track"):
            return True
        return inline_tag(name, closes, attributes, self._now())

    def _open(self, name: str, attributes: Mapping[str, str]) -> None:
        self._end_paragraph()
        tell_lost(self.place, name, attributes)
        while self.holders[-1].name in _ENDS_ITSELF.get(name, ()):
            self._end_holder()
        if len(self.holders) <= DEEPEST:
            self.holders.append(_Holder(name, attributes))

    def _close(self, name: str) -> None:
        if any(one.name == name for one in self.holders):
            while self._end_holder() != name:
                pass

    def _end_holder(self) -> str:
        self._end_paragraph()
        ended = self.holders.pop()
        self.holders[-1].blocks.extend(_made(ended))
        return ended.name


def _made(holder: _Holder) -> list[Block]:
    """What an element and what it holds are as blocks; parts of lists, tables and <details> wait for their whole."""
    name, blocks = holder.name, holder.blocks
    match name:
        case "tr" | "summary" | "figcaption":
            return [{"t": name, "c": blocks}]
        case "td" | "th":
            return [{"t": name, "c": _in_line(blocks), "align": _alignment(holder)}]
        case "li":
            return [{"t": "item", "box": None, "c": blocks}]
        case "ul" | "ol":
            return _list(holder) if blocks else []
        case "details":
            return [_details(blocks, "open" in holder.attributes)]
        case "blockquote":
            return [{"t": "note", "c": blocks}] if blocks else []
        case "table":
            return _table(blocks)
        case "pre":
            return [{"t": "code", "text": plain_text(blocks).strip("\n")}]
        case heading if heading in _HEADINGS:
            return _heading(_HEADINGS[heading], _in_line(blocks))
        case "dt":
            return [{"t": "paragraph", "c": [{"t": "strong", "c": _in_line(blocks)}]}]
        case "figure":
            return _with_caption(blocks)
    return _aligned(blocks, _alignment(holder))


def _alignment(holder: _Holder) -> str:
    asked = "center" if holder.name == "center" else holder.attributes.get("align", "").lower()
    return asked if asked in _ALIGNED else ""


def _aligned(blocks: list[Block], alignment: str) -> list[Block]:
    """The blocks, their paragraphs in the middle or at the right; at the left they stand anyway."""
    if alignment not in ("center", "right"):
        return blocks
    return [{**one, "align": alignment} if one["t"] == "paragraph" else one for one in blocks]


def _list(holder: _Holder) -> list[Block]:
    start = holder.attributes.get("start", "")
    is_a_number = start.isdecimal() and len(start) < 5
    number = {"start": int(start)} if is_a_number else {}
    items = [_item(one) for one in holder.blocks]
    return [{"t": "list", "ordered": holder.name == "ol", **number, "items": items}]


def _heading(level: int, words: list[Block]) -> list[Block]:
    return [{"t": "heading", "level": level, "c": words}] if plain_text(words).strip() else []


def _settled(block: Block) -> Iterator[Block]:
    """A block with no part of a list, table or <details> left over in it that was never put into its whole."""
    kind = block["t"]
    if kind in ("tr", "item"):
        for one in block["c"]:
            yield from _settled(one)
    elif kind in ("td", "th", "summary", "figcaption"):
        inside = block["c"] if kind in ("td", "th") else _in_line(block["c"])
        if inside:
            yield {"t": "paragraph", "c": inside}
    elif kind in ("note", "care", "details"):
        yield {**block, "c": [one for inner in block["c"] for one in _settled(inner)]}
    elif kind == "list":
        yield {**block, "items": [{**item, "c": [one for inner in item["c"] for one in _settled(inner)]}
                                  for item in block["items"]]}
    else:
        yield block


def _item(block: Block) -> Block:
    return {"box": None, "c": block["c"] if block["t"] == "item" else [block]}


def _details(blocks: list[Block], is_open: bool) -> Block:
    head = next((one for one in blocks if one["t"] == "summary"), None)
    words = _in_line(head["c"]) if head else []
    return {"t": "details", "summary": words or [{"t": "text", "text": "More"}], "open": is_open,
            "c": [one for one in blocks if one["t"] != "summary"]}


def _table(blocks: list[Block]) -> list[Block]:
    rows = [[cell for cell in one["c"] if cell["t"] in ("td", "th")] for one in blocks if one["t"] == "tr"]
    rows = [row for row in rows if row]
    others = [one for block in blocks for one in (block["c"] if block["t"] == "tr" else [block])
              if one["t"] not in ("td", "th")]
    if not rows:
        return others
    wide = max(map(len, rows))
    has_head = all(cell["t"] == "th" for cell in rows[0])
    align = [next((row[column]["align"] for row in rows if column < len(row) and row[column]["align"]), "")
             for column in range(wide)]
    filled = [[cell["c"] for cell in row] + [[]] * (wide - len(row)) for row in rows]
    return [*others, {"t": "table", "head": filled[0] if has_head else [], "rows": filled[has_head:], "align": align}]


def _with_caption(blocks: list[Block]) -> list[Block]:
    """A figure's picture with the words of its <figcaption> under it."""
    caption = " ".join(plain_text(_in_line(one["c"])).strip() for one in blocks if one["t"] == "figcaption")
    found: list[Block] = []
    for one in blocks:
        if one["t"] == "figcaption":
            continue
        images = [part for part in one.get("c", ()) if part["t"] == "image"] if one["t"] == "paragraph" else []
        if images and caption:
            images[-1]["caption"] = caption
            caption = ""
        found.append(one)
    return [*found, {"t": "paragraph", "c": [{"t": "em", "c": [{"t": "text", "text": caption}]}]}] if caption else found


def _in_line(blocks: list[Block]) -> list[Block]:
    """Paragraphs as one run of inlines, with a line break between them; of other blocks their words."""
    found: list[Any] = []
    for one in blocks:
        if found:
            found.append({"t": "break"})
        found += one["c"] if one["t"] == "paragraph" else [{"t": "text", "text": plain_text(one.get("c", ()))}]
    return found


def _with_single_spaces(words: str) -> str:
    inner = " ".join(words.split())
    before, after = words[:1].isspace(), words[-1:].isspace()
    return (" " if before else "") + inner + (" " if after and inner else "")
