"""What a stored drawing means, apart from how it was drawn: another version of an engraver moves strokes, not notes.

A picture of ours carries its maker in the metadata of its output. Drawn by the same maker, a picture is compared to the
byte, so that one changed by hand is found; drawn by another, it is compared by the words in it and the notes that it
names, and what Jupyter shows of it must be the same drawing.
"""

from __future__ import annotations

import base64
import hashlib
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from ..mimes import HTML_MIME, SVG_MIME, stored_svg

WORDS, ALT, CAPTION = "the words of its drawing", "its alt text", "its caption"
_UNKNOWN = "an unknown version"
_OWN_ID = re.compile(r"[nt]\d+(\.\d+)?")              # of a note or its TAB digit (workbook.draw.mei)
_BAR_NUMBER = "mNum"                                  # Verovio writes it where a system begins, wherever that is
_IMAGE = re.compile(rf'src="data:{re.escape(SVG_MIME)};base64,([\w+/=]*)"')
Output = Mapping[str, Any]


def makers(now: Sequence[Output], then: Sequence[Output]) -> tuple[str, str]:
    """(who drew a picture when it was recorded, who draws it here), for the first drawn otherwise; else two empty."""
    for new, old in zip(map(_with_drawing, now), map(_with_drawing, then), strict=False):
        if _drawn_otherwise(new, old):
            return _maker(old) or _UNKNOWN, _maker(new)
    return "", ""


def by_meaning(now: Sequence[Output], then: Sequence[Output]) -> tuple[list[Output], list[Output]]:
    """The outputs as they are to be compared: pictures of two makers by what they say, all others as they are."""
    new, old = list(map(_with_drawing, now)), list(map(_with_drawing, then))
    for index, (one, two) in enumerate(zip(new, old, strict=False)):
        if not _is_ours(one) or SVG_MIME not in two.get("data", {}):
            continue
        if _drawn_otherwise(one, two):
            one, two = _said(one, two), _said(two, one)
        new[index], old[index] = _with_alt(one), _with_alt(two)
    return new, old


def _with_drawing(output: Output) -> Output:
    """The output with a large drawing by itself, of which the <img> holds the only copy."""
    data = output.get("data", {})
    svg = "" if SVG_MIME in data else stored_svg(output)
    if not svg:
        return output
    return {**output, "data": {mime: value for mime, value in data.items() if mime != HTML_MIME} | {SVG_MIME: svg}}


def _is_ours(output: Output) -> bool:
    return bool(_maker(output)) and SVG_MIME in output.get("data", {})


def _drawn_otherwise(new: Output, old: Output) -> bool:
    """Whether both are drawings of ours, by different makers, and differ."""
    if not _is_ours(new) or SVG_MIME not in old.get("data", {}) or _maker(new) == _maker(old):
        return False
    return _text(new, SVG_MIME) != _text(old, SVG_MIME)


def _maker(output: Output) -> str:
    return str(_about(output).get("maker", ""))


def _about(output: Output) -> Mapping[str, Any]:
    about = output.get("metadata", {}).get(SVG_MIME, {})
    return about if isinstance(about, Mapping) else {}


def _with_alt(output: Output) -> Output:
    """The output with what is read instead of the picture as a part of it, since metadata are not compared."""
    about = _about(output)
    said = {ALT: str(about.get("alt", "")), CAPTION: str(about.get("caption", ""))}
    return {**output, "data": {**output["data"], **said}}


def _said(output: Output, other: Output) -> Output:
    """The output with the drawing's words in place of the drawing, and in place of its copy for Jupyter.

    A faithful copy that the other output lacks says nothing: one drawing was long enough to be kept once.
    """
    svg, html = _text(output, SVG_MIME), _text(output, HTML_MIME)
    data = {**output["data"], WORDS: "\n".join(sorted(_words(svg)))}
    del data[SVG_MIME]
    if HTML_MIME in data:
        same = _digest(svg.encode())
        copies = [_digest(_decoded(match[1])) == same for match in _IMAGE.finditer(html)]
        data[HTML_MIME] = _IMAGE.sub("the same drawing" if all(copies) else "another drawing", html)
        if HTML_MIME not in other["data"] and copies and all(copies):
            del data[HTML_MIME]
    return {**output, "data": data}


def _words(svg: str) -> Iterator[str]:
    """Every text of a drawing and every note that it holds; what cannot be read is its own word."""
    try:
        root = ElementTree.fromstring(svg)
    except ElementTree.ParseError:
        yield svg
        return
    for node in _shown(root):
        if node.tag.rpartition("}")[2] in ("text", "title", "desc"):
            yield "".join(node.itertext()).strip()
        elif _OWN_ID.fullmatch(node.get("id", "")):
            yield f"note {node.get('id')}"


def _shown(node: ElementTree.Element) -> Iterator[ElementTree.Element]:
    if _BAR_NUMBER in node.get("class", "").split():
        return
    yield node
    for child in node:
        yield from _shown(child)


def _text(output: Output, mime: str) -> str:
    found = output["data"].get(mime, "")
    return found if isinstance(found, str) else "".join(found)


def _decoded(text: str) -> bytes:
    try:
        return base64.b64decode(text, validate=True)
    except ValueError:
        return text.encode()


def _digest(data: bytes) -> str:
    return hashlib.sha256(b"".join(data.split())).hexdigest()
