"""A stored drawing made fit to stand inside a page: only what draws goes in, and nothing reaches out of its figure.

A stored SVG is anybody's text. What it may hold are the lists below; all else is refused by name if it could act, and
left out if it draws nothing (metadata, comments, what another program noted for itself). It is read twice: as XML,
which SVG is, and then by nh3, which reads it as a browser reads HTML and keeps the same lists. So a name that turns
into another one on the way (`SCRIPT`, an element that ends the drawing) is not there to turn.

Ids, and what points at them, begin with the figure's id; rules of style hold inside the figure alone.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from functools import lru_cache
from typing import Any

from .errors import HandoutError

SVG, XLINK, XML = "http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink", "http://www.w3.org/XML/1998/namespace"
XHTML = "http://www.w3.org/1999/xhtml"
DEEPEST = 100      # elements one in another; a browser flattens what lies below 512, and reads something else
MOST_DRAWN = 200_000  # elements, those drawn again by <use> counted each time
MOST_AGAIN = 4        # times the elements that it holds, that a drawing of many parts may draw
LONGEST_CHAIN = 8  # <use> of a <use> of …

_POINTERS = ("use", "image", "linearGradient", "radialGradient", "pattern", "textPath")  # elements with a href
DRAWING = frozenset((
    *_POINTERS, "svg", "g", "defs", "symbol", "style", "path", "rect", "circle", "ellipse", "line", "polyline",
    "polygon", "text", "tspan", "stop", "clipPath", "mask", "marker"))
_UNSEEN = frozenset(("title", "desc", "metadata"))  # said by the figure's label, or not meant for the eye


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


# Properties of style that draw (SVG 1.1, appendix N, and what CSS added to them): attributes, in `style`, in rules.
PROPERTIES = _words("""
    alignment-baseline baseline-shift clip-path clip-rule color color-interpolation direction display
    dominant-baseline fill fill-opacity fill-rule font font-family font-feature-settings font-size font-size-adjust
    font-stretch font-style font-variant font-weight image-rendering letter-spacing line-height marker marker-end
    marker-mid marker-start mask mix-blend-mode opacity overflow paint-order shape-rendering stop-color stop-opacity
    stroke stroke-dasharray stroke-dashoffset stroke-linecap stroke-linejoin stroke-miterlimit stroke-opacity
    stroke-width text-anchor text-decoration text-rendering transform transform-box transform-origin unicode-bidi
    vector-effect visibility white-space word-spacing writing-mode""")
_GEOMETRY = _words("""
    class clipPathUnits cx cy d dx dy fx fy gradientTransform gradientUnits height id lengthAdjust markerHeight
    markerUnits markerWidth maskContentUnits maskUnits method offset orient pathLength patternContentUnits
    patternTransform patternUnits points preserveAspectRatio r refX refY rotate rx ry spacing spreadMethod startOffset
    textLength type version viewBox width x x1 x2 y y1 y2""")
_FUNCTIONS = _words("""
    calc url rgb rgba hsl hsla translate translatex translatey scale scalex scaley rotate matrix skewx skewy""")
_PICTURE = re.compile(r"data:image/(png|jpeg|gif|webp);base64,[A-Za-z0-9+/=\s]*")
_PLAIN = re.compile(r"[\w\s#.,%+'-]*")  # a value without functions, escapes and comments


def clean_svg(svg: str, figure: str) -> str:
    """The drawing as HTML, its ids prefixed with "FIGURE-"; its rules of style hold inside the element of id `figure`.

    Raises HandoutError for what is no well-formed SVG, could act or load something, or would grow out of hand.
    """
    root = read_drawing(svg)
    written: list[str] = []
    _write(root, figure, written)
    return str(_browser().clean("".join(written)))


def read_drawing(svg: str, *, in_parts: bool = False) -> ElementTree.Element:
    """A stored SVG's tree; raises HandoutError for what is no well-formed SVG or would grow out of hand.

    One that is shown `in_parts`, each of them bounded when it is shown, may be longer, if it draws little twice.
    """
    # Entities of its own could grow without bound; drawings need none.
    if "<!ENTITY" in svg or re.search(r"<!DOCTYPE[^>]*\[", svg):
        raise HandoutError("a figure declares entities of its own", value=svg[:60], expected="a plain SVG")
    try:
        root = ElementTree.fromstring(svg)
    except (ElementTree.ParseError, UnicodeEncodeError) as error:
        raise HandoutError(f"a figure is not well-formed SVG: {error}", value=svg[:60]) from error
    if _named(root.tag) != (SVG, "svg"):
        raise HandoutError("a figure is no SVG", value=root.tag, expected="<svg>")
    _bounded(root, max(MOST_DRAWN, MOST_AGAIN * sum(1 for _ in root.iter())) if in_parts else MOST_DRAWN)
    return root


@lru_cache(maxsize=1)
def _browser() -> Any:
    """The second reading: the same lists, by the rules of HTML."""
    import nh3

    attributes = {"xmlns", "style", "href", "xlink:href", "space", "aria-hidden", "focusable"} | _GEOMETRY | PROPERTIES
    return nh3.Cleaner(tags=set(DRAWING), clean_content_tags=set(), attributes={"*": attributes}, link_rel=None,
                       url_schemes={"data"})


def _named(tag: str) -> tuple[str, str]:
    """Namespace and name; what has no namespace counts as SVG, as it would in HTML."""
    space, _, name = tag[1:].rpartition("}") if tag.startswith("{") else ("", "", tag)
    return space or SVG, name


# -- bounds ----------------------------------------------------------------------------------------------------------
def _bounded(root: ElementTree.Element, most: int) -> None:
    level, depth = [root], 0
    while level:
        depth += 1
        level = [child for node in level for child in node]
    if depth > DEEPEST:
        raise HandoutError(f"a figure's elements lie {depth} deep, one in another", value=depth,
                           expected=f"{DEEPEST} at most")
    named = {node.get("id"): node for node in root.iter()}
    drawn = _drawn(root, named, {}, 0)
    if drawn > most:
        raise HandoutError(f"a figure draws {drawn} elements", value=drawn, expected=f"{most} at most")


def _drawn(node: ElementTree.Element, named: dict[str | None, ElementTree.Element], known: dict[str, int],
           chain: int) -> int:
    """How many elements are drawn, counting again what <use> draws again."""
    if chain > LONGEST_CHAIN:
        raise HandoutError("a figure's <use> points at another <use>, and so on", value=chain,
                           expected=f"{LONGEST_CHAIN} one after another at most")
    total = 0
    for one in node.iter():
        total += 1
        if _named(one.tag) != (SVG, "use"):
            continue
        target = (one.get("href") or one.get(f"{{{XLINK}}}href") or "").removeprefix("#")
        if target not in known and target in named:
            known[target] = _drawn(named[target], named, known, chain + 1)
        total += known.get(target, 0)
    return total


# -- elements and attributes -----------------------------------------------------------------------------------------
def _write(node: ElementTree.Element, figure: str, written: list[str], outermost: bool = True) -> None:
    space, name = _named(node.tag)
    draws_nothing = name in _UNSEEN if space == SVG else space != XHTML
    if draws_nothing:
        return
    attributes = list(_attributes(node, name, figure))
    if space != SVG or name not in DRAWING:
        raise HandoutError(f"a figure holds <{name}>: it could run or load something, or is not known to draw",
                           value=name, expected="elements that draw")
    if outermost:
        attributes += [("aria-hidden", "true"), ("focusable", "false")]  # the figure's label says it once
    written.append(f"<{name}" + "".join(f' {key}="{_quoted(value)}"' for key, value in attributes) + ">")
    if name == "style":
        written.append(_escaped(scoped("".join(node.itertext()), figure)))
    else:
        written.append(_escaped(node.text or ""))
        for child in node:
            _write(child, figure, written, outermost=False)
            written.append(_escaped(child.tail or ""))
    written.append(f"</{name}>")


def _attributes(node: ElementTree.Element, name: str, figure: str) -> Iterator[tuple[str, str]]:
    """The attributes that draw; refuses handlers and addresses outside, leaves out what draws nothing."""
    for key, value in node.attrib.items():
        space, plain = key[1:].split("}") if key.startswith("{") else ("", key)
        if plain.lower().startswith("on"):
            raise HandoutError(f"a figure holds a handler “{plain}” that could run", value=plain)
        if plain == "href" and space in ("", XLINK):
            yield ("xlink:href" if space else "href"), _href(value, name, figure)
        elif (space, plain) == (XML, "space"):
            yield "xml:space", value
        elif space:
            continue
        elif plain == "id":
            yield plain, f"{figure}-{value}"
        elif plain == "style":
            yield plain, declarations(value, figure)
        elif plain in PROPERTIES:
            yield plain, property_value(value, figure)
        elif plain in _GEOMETRY:
            yield plain, value


def _href(value: str, name: str, figure: str) -> str:
    target = value.strip()
    if target.startswith("#"):
        return f"#{figure}-{target[1:]}"
    if name == "image" and _PICTURE.fullmatch(target):
        return target
    raise HandoutError("a figure points outside itself", value=value[:60],
                       expected="a #part of the same figure, or a picture as data:image/png")


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _quoted(value: str) -> str:
    return _escaped(value).replace('"', "&quot;")


# -- style -----------------------------------------------------------------------------------------------------------
def scoped(css: str, figure: str) -> str:
    """A drawing's rules, each held inside the element of id `figure`, with the properties that draw."""
    import tinycss2

    rules = []
    for rule in tinycss2.parse_stylesheet(css, skip_comments=True, skip_whitespace=True):
        if rule.type == "error":
            continue  # as a browser does
        if rule.type != "qualified-rule":
            raise HandoutError(f"a figure's style holds @{rule.at_keyword}: it could load something or reach out",
                               value=rule.at_keyword, expected="plain rules")
        selectors = ", ".join(f"#{figure} {one}" for one in _selectors(rule.prelude, figure))
        rules.append(f"{selectors} {{{declarations(rule.content, figure)}}}")
    return "\n".join(rules)


def _selectors(prelude: list[Any], figure: str) -> Iterator[str]:
    import tinycss2

    one: list[Any] = []
    for token in [*prelude, None]:
        if token is not None and token != ",":
            _name_in_figure(token, figure)
            one.append(token)
            continue
        text = tinycss2.serialize(one).strip().replace(":root", "svg")
        leads_out = not re.match(r"[\w#.\[*:]", text)  # a combinator in front, or nothing at all
        if leads_out:
            raise HandoutError("a figure's style has a rule without a selector", value=text[:60],
                               expected="the name of an element, a class or an id")
        yield text
        one = []


def _name_in_figure(token: Any, figure: str) -> None:
    """Prefix the ids in a selector's token, inside brackets and functions too."""
    if token.type == "error" or token.type == "{} block":
        raise HandoutError("a figure's style cannot be read", value=token.type, expected="plain rules")
    if token.type == "hash":
        token.value = f"{figure}-{token.value}"
    for inner in getattr(token, "content", None) or getattr(token, "arguments", None) or ():
        _name_in_figure(inner, figure)


def declarations(style: Any, figure: str) -> str:
    """The declarations of a style (text or tokens), those whose property draws."""
    import tinycss2

    kept = []
    for one in tinycss2.parse_declaration_list(style, skip_comments=True, skip_whitespace=True):
        if one.type != "declaration":
            continue  # as a browser does
        value = property_value(tinycss2.serialize(one.value).strip(), figure)
        if one.lower_name in PROPERTIES:
            kept.append(f"{one.lower_name}:{value}")  # never "important": the page's own rules come last
    return ";".join(kept)


def property_value(value: str, figure: str) -> str:
    """A property's value, its url(#part) prefixed; refuses an address outside and functions that do not draw."""
    import tinycss2

    if _PLAIN.fullmatch(value):
        return value
    tokens = tinycss2.parse_component_value_list(value, skip_comments=True)
    for token in tokens:
        _judge(token, figure)
    return str(tinycss2.serialize(tokens))


def _judge(token: Any, figure: str) -> None:
    if token.type == "url":
        _point(token, figure)
    elif token.type == "function":
        if token.lower_name not in _FUNCTIONS:
            raise HandoutError(f"a figure's style calls {token.name}(): it could load something",
                               value=token.name, expected="a colour, a length or a url(#part) of the same figure")
        for inner in token.arguments:
            if token.lower_name == "url" and inner.type == "string":
                _point(inner, figure)
            else:
                _judge(inner, figure)
    elif token.type.endswith("block") or token.type == "error":
        raise HandoutError("a figure's style cannot be read", value=token.serialize()[:60])


def _point(token: Any, figure: str) -> None:
    target = token.value.strip()
    if not target.startswith("#"):
        raise HandoutError("a figure's style points outside itself", value=target[:60],
                           expected="a url(#part) of the same figure")
    token.value = f"#{figure}-{target[1:]}"
    address = re.sub(r'[\\"\n\r\f]', lambda found: f"\\{ord(found[0]):x} ", token.value)
    token.representation = f'url("{address}")' if token.type == "url" else f'"{address}"'
