"""Words with their form, as inline blocks: from mistune's tokens and the few elements of HTML that Lab users write.

An element that is not known here stays as it was typed; so no text of a lesson becomes markup of ours.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from html import unescape
from typing import Any

from ..media.beside import is_recording
from .brought import Block, Place, picture, recorded
from .errors import HandoutError
from .formulas import NoFormula, formula

_SAFE_LINKS = ("http://", "https://", "mailto:", "#")
INLINE_MM = 60.0  # of a picture among words or in a table that does not say its own width
DEEPEST = 24  # elements one in another; what lies deeper loses its form
# A value ends at a <, so that no piece of a text is read twice.
TAG = re.compile(r"""<(?P<close>/?)(?P<name>[A-Za-z][A-Za-z0-9]{0,19}+)"""
                 r"""(?P<rest>(?:[^<>"']++|"[^"<]*+"|'[^'<]*+')*+)>""")
_ATTRIBUTE = re.compile(r"""([A-Za-z][\w-]{0,29}+)(?:\s{0,9}+=\s{0,9}+(?:"([^"]*+)"|'([^']*+)'|([^\s"'=<>`]++)))?""")
# Elements of HTML that give words a form: the inline block that they are here; "" for those whose words are plain.
FORMS = {
    "b": "strong", "strong": "strong", "i": "em", "em": "em", "cite": "em", "var": "em", "dfn": "em", "sub": "sub",
    "sup": "sup", "kbd": "kbd", "s": "strike", "del": "strike", "strike": "strike", "u": "under", "ins": "under",
    "mark": "mark", "small": "small", "code": "code", "samp": "code", "tt": "code", "span": "", "font": "", "abbr": "",
    "q": "", "big": "", "bdi": "", "time": "", "label": "", "a": "link",
}
_TOKENS = {"strong": "strong", "emphasis": "em", "strikethrough": "strike"}
_LOST = {"style": "the style", "color": "the colour", "bgcolor": "the colour", "face": "the font", "size": "the size"}


def text(words: str) -> Block:
    return {"t": "text", "text": words}


def plain_text(inlines: Iterable[Block]) -> str:
    """The words of some inlines, without their form."""
    return "".join(one.get("text", "") or one.get("words", "") or plain_text(one.get("c", ())) for one in inlines)


def attributes_of(rest: str) -> dict[str, str]:
    """The attributes of a tag, small letters; one without a value is empty."""
    return {name.lower(): unescape(one or two or three) for name, one, two, three in _ATTRIBUTE.findall(rest)}


def may_lead_to(address: str) -> bool:
    """Whether a link may lead there: the web, mail, a place of the page, a file beside it; not another machine's disk.

    Browsers skip tabs, line ends and control signs within an address and read a backslash as a slash: none may stand.
    """
    if re.search(r"[\x00-\x20\x7f\\]", address) or address.startswith("//"):
        return False
    return address.lower().startswith(_SAFE_LINKS) or ":" not in address.split("/")[0]


class Words:
    """A run of inlines being read: what is opened takes what follows, until it is closed."""

    def __init__(self, place: Place) -> None:
        self.place = place
        self.open_ones: list[tuple[str, Block, list[Block]]] = [("", {}, [])]

    def add(self, *blocks: Block) -> None:
        self.open_ones[-1][2].extend(blocks)

    def words(self, written: str) -> None:
        if written:
            self.add(text(written))

    def open(self, name: str, attributes: Mapping[str, str]) -> None:
        """An element of FORMS begins."""
        tell_lost(self.place, name, attributes)
        if len(self.open_ones) <= DEEPEST:
            about = {"href": attributes.get("href", "")} if name == "a" else {}
            self.open_ones.append((name, about, []))

    def close(self, name: str) -> None:
        """An element ends, and with it what began inside; nothing where none of the name is open."""
        if any(one == name for one, _, _ in self.open_ones):
            while self._end_last() != name:
                pass

    def _end_last(self) -> str:
        name, about, inside = self.open_ones.pop()
        form = FORMS[name]
        if form == "link" and about["href"]:
            self.add(*linked(self.place, about["href"], inside))
        elif form == "code":
            self.add({"t": "mono", "text": plain_text(inside)})
        elif form and form != "link" and inside:
            self.add({"t": form, "c": inside})
        else:
            self.add(*inside)
        return name

    def done(self) -> list[Block]:
        while len(self.open_ones) > 1:
            self._end_last()
        return self.open_ones[0][2]


def tell_lost(place: Place, name: str, attributes: Mapping[str, str]) -> None:
    for word in attributes.keys() & _LOST.keys():
        place.tell(f"{_LOST[word]} of <{name}> is not printed: it comes out plain")


def linked(place: Place, address: str, inside: list[Block]) -> list[Block]:
    """A link with its words: a player where it leads to a recording beside the lesson; the words alone where it may
    not lead there."""
    if is_recording(address):
        return [recorded(place, address, plain_text(inside))]
    return [{"t": "link", "href": address, "c": inside}] if may_lead_to(address) and inside else inside


def inlines(tokens: Iterable[Mapping[str, Any]], place: Place) -> list[Block]:
    """Mistune's inline tokens as inline blocks."""
    found = Words(place)
    for token in tokens:
        kind, children = token["type"], token.get("children", ())
        if kind == "text":
            found.words(unescape(token["raw"]))
        elif kind == "inline_html":
            _html(token["raw"], found)
        elif kind in _TOKENS:
            found.add({"t": _TOKENS[kind], "c": inlines(children, place)})
        elif kind == "codespan":
            found.add({"t": "mono", "text": token["raw"]})
        elif kind == "softbreak":
            found.words(" ")
        elif kind == "linebreak":
            found.add({"t": "break"})
        elif kind == "link":
            found.add(*linked(place, token["attrs"]["url"], inlines(children, place)))
        elif kind == "image":
            about, alt = token["attrs"], plain_text(inlines(children, place))
            found.add(inline_picture(place, about["url"], alt, about.get("title") or ""))
        elif kind in ("inline_math", "block_math"):
            found.add(*formula_or_text(token["raw"], place, "$" if kind == "inline_math" else "$$"))
        else:
            found.words(token.get("raw") or plain_text(inlines(children, place)))
    return found.done()


def inline_picture(place: Place, address: str, alt: str, caption: str = "", width: str = "") -> Block:
    """A picture that may stand among words; alone in its paragraph it becomes a figure (markdown.py)."""
    found = picture(place, address, alt, caption, width)
    small = found["width_mm"] if width else min(found["width_mm"], INLINE_MM)
    return {**found, "t": "image", "width_mm": small, "whole_mm": found["width_mm"]}


def formula_or_text(written: str, place: Place, sign: str) -> list[Block]:
    """A formula as inlines; as it was typed, and told, where something in it is not known."""
    try:
        return formula(written)
    except NoFormula as error:
        place.tell(f"the formula {sign}{written.strip()[:60]}{sign} is printed as typed: it holds {error}")
        return [text(f"{sign}{written}{sign}")]


def _html(raw: str, found: Words) -> None:
    """One tag or comment within a paragraph."""
    if raw.startswith("<!--"):
        return
    tag = TAG.fullmatch(raw)
    name = tag["name"].lower() if tag else ""
    if tag is None or not inline_tag(name, bool(tag["close"]), attributes_of(tag["rest"]), found):
        if name:
            tell_typed(found.place, name)
        found.words(raw)


def tell_typed(place: Place, name: str) -> None:
    """That a tag is printed as typed, unless the reason was told."""
    if name not in _BRINGING:
        place.tell(f"<{name}> is printed as typed")


def inline_tag(name: str, closes: bool, attributes: Mapping[str, str], found: Words) -> bool:
    """Carry out a tag that stands among words; False for one that is not known here."""
    if name == "br":
        found.add({"t": "break"})
    elif name in _BRINGING and not closes and attributes.get("src"):
        return _bring(name, attributes, found)
    elif name in FORMS:
        if closes:
            found.close(name)
        else:
            found.open(name, attributes)
    else:
        return name == "wbr" or (name in _BRINGING and (closes or name != "img"))
    return True


_BRINGING = ("img", "audio", "video", "source")


def _bring(name: str, attributes: Mapping[str, str], found: Words) -> bool:
    """A picture or a recording that a tag names; False, and told, where it cannot be taken: the tag stays as typed."""
    place = found.place
    try:
        if name == "img":
            brought = inline_picture(place, attributes["src"], attributes.get("alt", ""), attributes.get("title", ""),
                                     attributes.get("width", ""))
        else:
            brought = recorded(place, attributes["src"], attributes.get("title", ""))
    except HandoutError as error:
        place.tell(f"<{name}> cannot be shown, and is printed as typed: {error.message}", missing=True)
        return False
    tell_lost(place, name, attributes)
    found.add(brought)
    return True
