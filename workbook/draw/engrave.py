"""Engraving: MEI through Verovio to SVG, our own text and marks laid over it at the places of our ids.

Verovio sets text in whatever serif is installed and turns ♯ ♭ into private signs, so chord symbols, digits and fingers
are written again in our font. Coordinates of the overlay are Verovio's own, ten to a unit of the picture.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Container, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from itertools import accumulate, pairwise
from threading import Lock
from typing import Any

from ..fonts import CAP_HEIGHT, in_lines, text_width
from .layout import System, systems_of
from .mei import MeiScore
from .parts import INK, SVG, XLINK, overlay_text
from .stacking import place_of, slim, stacked
from .symbols import AFTER, CHORD, LABEL, label_width, symbol_pieces

FINGER, DIGIT, HEADER, NUMBER = 312.0, 344.0, 330.0, 265.0  # type sizes, ten to a unit
MOST_BALANCED = 24                                         # bars; longer scores keep Verovio's own breaks
TOP_UNITS, SIDE_UNITS, BOTTOM_UNITS = 75, 32, 40           # margins around the engraving, in units
TITLE_UNITS = 40                                           # from one line of a long title to the next
BARE_TOP_UNITS = 20                                        # on top where no heading stands
SEED = 1                                                   # of the names that Verovio gives
COMPACT_SIDE_UNITS = 2                                     # nothing stands before a system
COMPACT = 0.16                                             # of Verovio's room for a value, usually 0.25
SHORT_END = 0.7                                            # of the width, which such a system must reach to fill it
PAGE_UNITS = 60000                                         # Verovio's longest page
FINGER_IN = 20.0                                           # from its placeholder to its note's middle
STRING_GAP = 239                                           # that Verovio leaves in a string for a single figure
SYSTEM_GAP = 54                                            # between systems, as `spacingSystem` asks for
_STROKE = re.compile(r"^M(-?[\d.]+) (-?[\d.]+) L\1 (-?[\d.]+)$")
_LEVEL = re.compile(r"^M(-?[\d.]+) (-?[\d.]+) L-?[\d.]+ \2$")
_ID = re.compile(r"^[nt](\d+)(?:\.\d+)?$")

_AT_WORK = Lock()

ElementTree.register_namespace("", SVG)
ElementTree.register_namespace("xlink", XLINK)


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a piece of the engraving stands, in overlay coordinates."""

    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Fit:
    """How bars are shared among systems: so many to each (None: as many as it holds, shared evenly).

    In a `compact` engraving notes stand closer, and a last system of fewer bars ends before the edge.
    """

    bars_a_system: int | None = None
    compact: bool = False


USUAL = Fit()


@dataclass(slots=True)
class Engraving:
    """An engraved score: its SVG tree, the group that holds its systems, and where our ids stand.

    Each system is a group of its own with all that is drawn in it, so that a page can show it alone.
    """

    root: ElementTree.Element
    page: ElementTree.Element
    width: float   # units of the viewBox
    height: float
    digits: dict[str, Spot] = field(default_factory=dict)
    cuts: tuple[float, ...] = ()
    systems: list[System] = field(default_factory=list)


def engrave(score: MeiScore, bar_beats: Fraction, *, tab: bool, width_units: int,
            heading: tuple[str, str] = ("", ""), fit: Fit = USUAL) -> Engraving:
    """Engrave a score at a page width in units, ten a millimetre; the same input gives the same bytes.

    `tab` says that the last staff of each system is a TAB; `bar_beats` is the length of every bar.
    """
    lines = _title_lines(heading, width_units - SIDE_UNITS - 8)
    side = COMPACT_SIDE_UNITS if fit.compact else SIDE_UNITS
    top = (TOP_UNITS + (len(lines) - 1) * TITLE_UNITS) if any(heading) else BARE_TOP_UNITS
    options = {
        "pageWidth": width_units, "pageHeight": PAGE_UNITS, "adjustPageHeight": True, "scale": 100, "svgViewBox": True,
        "header": "none", "footer": "none", "breaks": "auto", "smuflTextFont": "none", "xmlIdSeed": SEED,
        "pageMarginLeft": side, "pageMarginRight": 8, "pageMarginTop": top,
        "pageMarginBottom": BOTTOM_UNITS, "minLastJustification": 0.0,
        "font": "Bravura", "spacingSystem": 6, "spacingStaff": 5, "harmDist": 1.2,
        "spacingLinear": COMPACT if fit.compact else 0.25,
    }
    with _AT_WORK:  # the toolkit keeps options and score from call to call: one thread at a time
        engraver = toolkit()
        engraver.setOptions(options)
        pages = _laid_out(engraver, score.text, fit)
    engraving = Engraving(*stacked(pages, BOTTOM_UNITS, top, SYSTEM_GAP))
    engraving.systems = systems_of(_systems(engraving.page), score.moments, bar_beats, tab)
    _rewrite(engraving, score)
    engraving.cuts = tuple(_cuts(engraving))
    _head(engraving, lines, heading[1], top)
    slim(engraving.page)
    return engraving


def add_overlay(engraving: Engraving, marks: Iterable[tuple[int, ElementTree.Element]]) -> None:
    """Lay marks in overlay coordinates over their systems, by number, in a group of its own in each."""
    groups: dict[int, ElementTree.Element] = {}
    for number, element in marks:
        if number not in groups:
            system = engraving.systems[number].group
            groups[number] = ElementTree.SubElement(system, f"{{{SVG}}}g", {"class": "overlay"})
        groups[number].append(element)


def svg_text(engraving: Engraving, alt: str) -> str:
    """The finished SVG on its own white ground, with the alt text as its title."""
    return written(finished(engraving, alt))


def written(root: ElementTree.Element) -> str:
    """An SVG's tree as text."""
    return ElementTree.tostring(root, encoding="unicode").replace('" />', '"/>')


def finished(engraving: Engraving, alt: str) -> ElementTree.Element:
    """The engraving's own tree with its size, its ground and its title."""
    root = engraving.root
    root.set("width", f"{engraving.width:.0f}")
    root.set("height", f"{engraving.height:.0f}")
    root.set("role", "img")
    inner = next(node for node in root.iter(f"{{{SVG}}}svg") if node.get("class") == "definition-scale")
    inner.set("width", f"{engraving.width:.0f}")  # else it would stretch to whatever slice of the picture is shown
    inner.set("height", f"{engraving.height:.0f}")
    for child in [child for child in root if child.tag in (f"{{{SVG}}}desc", f"{{{SVG}}}title")]:
        root.remove(child)
    title = ElementTree.Element(f"{{{SVG}}}title")
    title.text = alt
    ground = ElementTree.Element(f"{{{SVG}}}rect", {
        "width": f"{engraving.width:.0f}", "height": f"{engraving.height:.0f}", "fill": "#ffffff"})
    root.insert(0, title)
    root.insert(1, ground)
    return root


def _laid_out(engraver: Any, text: str, fit: Fit) -> list[ElementTree.Element]:
    if fit.bars_a_system is None:
        pages = _rendered(engraver, text)
        counts = _bars_a_system(pages)
        broken = evenly_broken(text, counts)
        if broken is None:
            if not fit.compact or not _may_be_equal(counts):
                return pages
            broken = _broken(text, _each(counts[0], text))
    else:
        broken = _broken(text, _each(fit.bars_a_system, text))
    if fit.compact and _is_short_at_the_end(broken):
        engraver.setOptions({"minLastJustification": SHORT_END})
    engraver.setOptions({"breaks": "encoded" if "<sb/>" in broken else "none"})
    return _rendered(engraver, broken)


def evenly_broken(text: str, counts: Sequence[int]) -> str | None:
    """MEI with its bars shared evenly among as many systems; None where they are already, or would not fit.

    `counts` are the bars of each system as Verovio breaks it: it fills each system and leaves the rest to the last.
    Long scores keep Verovio's breaks: laying them out twice would cost more than it gives.
    """
    total, systems = sum(counts), len(counts)
    if systems < 2 or total > MOST_BALANCED:
        return None
    least, more = divmod(total, systems)
    even = [least + 1] * more + [least] * (systems - more)
    if list(counts) == even or even[0] > min(counts[:-1]):
        return None
    return _broken(text, set(accumulate(even)))


def _may_be_equal(counts: Sequence[int]) -> bool:
    """Can every system but the last hold as many bars as the first, and there be no more systems for it?

    A line that ends on a bar of one held note has it at the end of its last system, not in one of its own.
    """
    return len(counts) > 1 and counts[-1] != counts[0] and -(-sum(counts) // counts[0]) <= len(counts)


def _broken(text: str, ends: Container[int]) -> str:
    """MEI in which a new system begins after the bars with these numbers."""
    head, *measures = text.split("<measure ")
    return head + "".join(("<sb/>" if index in ends else "") + f"<measure {measure}"
                          for index, measure in enumerate(measures))


def _each(bars: int, text: str) -> range:
    """The numbers of the bars after which systems of so many bars end."""
    return range(bars, text.count("<measure "), bars)


def _is_short_at_the_end(broken: str) -> bool:
    """Does the last of several systems hold fewer bars than the first?"""
    counts = [part.count("<measure ") for part in broken.split("<sb/>")]
    return len(counts) > 1 and counts[-1] < counts[0]


def _rendered(engraver: Any, text: str) -> list[ElementTree.Element]:
    engraver.resetXmlIdSeed(SEED)
    if not engraver.loadData(text):
        raise RuntimeError("Verovio refused the MEI that this module wrote")
    return [ElementTree.fromstring(engraver.renderToSVG(number + 1)) for number in range(engraver.getPageCount())]


def _bars_a_system(pages: Iterable[ElementTree.Element]) -> list[int]:
    return [sum(part.get("class") == "measure" for part in system.iter(f"{{{SVG}}}g"))
            for page in pages for system in _systems(page)]


def _systems(root: ElementTree.Element) -> list[ElementTree.Element]:
    return [group for group in root.iter(f"{{{SVG}}}g") if group.get("class") == "system"]


@lru_cache(maxsize=1)
def toolkit() -> Any:
    """Verovio's toolkit, made once in a process."""
    import verovio  # loads its fonts on first use

    verovio.enableLog(verovio.LOG_ERROR)
    return verovio.toolkit()


def _rewrite(engraving: Engraving, score: MeiScore) -> None:
    """Put our own text where Verovio put its placeholders, digits and fingers."""
    bar_line = label_at = 0.0
    for node in engraving.page.iter(f"{{{SVG}}}g"):
        kind, name = node.get("class", "").partition(" ")[0], node.get("id", "")  # "mNum autogenerated" too
        if kind == "measure":
            bar_line = label_at = _left(node)
        if kind == "harm" and name in score.words:
            node[:] = list(_chord(_spot(node), score.words[name], score.sections.get(name, ""), label_at))
        elif name in score.fingers:
            spot = _spot(node)
            node.set("class", "fing")
            node[:] = [overlay_text(spot.x + FINGER_IN, spot.y, score.fingers[name], FINGER, bold=True,
                                    anchor="middle")]
        elif kind == "mNum":
            spot, number = _spot(node), "".join(node.itertext()).strip()
            node[:] = [overlay_text(bar_line, spot.y, number, NUMBER)]
            label_at = bar_line + text_width(number, NUMBER) + AFTER  # a section's name stands after it
        elif kind == "barLine":
            node[:] = _whole(node)
        elif kind == "note" and name.startswith("t") and _ID.match(name):
            spot = _spot(node)
            fret = "".join(node.itertext()).strip()
            middle = spot.y - _type_size(node) * 0.34  # Verovio centres it on the string
            node[:] = _digit(spot.x, middle, score.labels.get(name, ""), fret)
            engraving.digits[name] = Spot(spot.x, middle)


def _digit(x: float, middle: float, label: str, fret: str) -> list[ElementTree.Element]:
    """What stands on the string: a single figure, for which Verovio cuts it, or more on a small ground of its own."""
    shown = label or fret
    text = overlay_text(x, middle + DIGIT * CAP_HEIGHT / 2, shown, DIGIT, bold=True, anchor="middle")
    wide = text_width(shown, DIGIT, bold=True) + 40
    if not label and wide < STRING_GAP + 10:
        return [text]
    ground = {"x": f"{x - wide / 2:.0f}", "y": f"{middle - DIGIT * 0.44:.0f}", "width": f"{wide:.0f}",
              "height": f"{DIGIT * 0.88:.0f}", "fill": "#ffffff"}
    return [ElementTree.Element(f"{{{SVG}}}rect", ground), text]


def _left(measure: ElementTree.Element) -> float:
    """Where a bar's lines begin."""
    return min(float(match[1]) for path in measure.iter(f"{{{SVG}}}path")
               if (match := _LEVEL.match(path.get("d", ""))))


def _chord(spot: Spot, words: str, section: str, label_at: float) -> Iterator[ElementTree.Element]:
    """A chord symbol: root, raised suffix, bass; the name of a section that begins with it stands before it."""
    x = spot.x
    if section:
        yield from _label(Spot(label_at, spot.y), section)
        x = max(x, label_at + label_width(section) + AFTER)
    for text, size, rise in symbol_pieces(words):
        yield overlay_text(x, spot.y - rise * CHORD, text, size * CHORD, bold=True)
        x += text_width(text, size * CHORD, bold=True)


def _label(spot: Spot, label: str) -> Iterator[ElementTree.Element]:
    """A section's name in a box that begins at its bar line."""
    wide, size = label_width(label), CHORD * LABEL
    yield ElementTree.Element(f"{{{SVG}}}rect", {
        "x": f"{spot.x:.0f}", "y": f"{spot.y - size:.0f}", "width": f"{wide:.0f}", "height": f"{size * 1.25:.0f}",
        "fill": "none", "stroke": INK, "style": "stroke-width:24"})
    middle = spot.y - size + size * 1.25 / 2
    yield overlay_text(spot.x + wide / 2, middle + size * CAP_HEIGHT / 2, label, size, bold=True, anchor="middle")


def _whole(bar_line: ElementTree.Element) -> list[ElementTree.Element]:
    """A bar line's strokes from the highest to the lowest point: Verovio leaves a gap where something stands near."""
    strokes: dict[tuple[float, str], list[float]] = {}
    others = []
    for part in bar_line:
        match = _STROKE.match(part.get("d", ""))
        if match is None:
            others.append(part)
            continue
        strokes.setdefault((float(match[1]), part.get("stroke-width", "")), []).extend(map(float, match.groups()[1:]))
    return [*(ElementTree.Element(f"{{{SVG}}}path", {"d": f"M{x:.0f} {min(ys):.0f} L{x:.0f} {max(ys):.0f}",
                                                      "stroke-width": width})
              for (x, width), ys in strokes.items()), *others]


def _title_lines(heading: tuple[str, str], width_units: float) -> list[str]:
    """The title in as many lines as it takes beside key and tempo, which stand at the end of the first."""
    title, about = heading
    room = 10 * width_units - text_width(about, HEADER * 0.9) - (200 if about else 0)
    return in_lines(title, room, HEADER, bold=True)


def _head(engraving: Engraving, title: Sequence[str], about: str, top_units: int) -> None:
    top = -10 * top_units + HEADER + 20
    first = engraving.systems[0].group
    for number, line in enumerate(title):
        if line:
            first.append(overlay_text(0, top + 10 * TITLE_UNITS * number, line, HEADER, bold=True))
    if about:
        end = 10 * (engraving.width - SIDE_UNITS - 8)
        first.append(overlay_text(end, top, about, HEADER * 0.9, anchor="end"))


def _type_size(node: ElementTree.Element) -> float:
    sizes = [float(part.get("font-size", "0px").removesuffix("px")) for part in node.iter(f"{{{SVG}}}tspan")]
    return max(sizes, default=0.0)


def _spot(node: ElementTree.Element) -> Spot:
    text = next(node.iter(f"{{{SVG}}}text"))
    return Spot(float(text.get("x", "0")), float(text.get("y", "0")))


def _cuts(engraving: Engraving) -> Iterator[float]:
    """Heights, in units of the viewBox, at which the picture may be cut between systems."""
    top = place_of(engraving.page)[1]
    edges = []
    for system in _systems(engraving.page):
        down = place_of(system)[1]
        lines = [float(match) for staff in system.iter(f"{{{SVG}}}g") if staff.get("class") == "staff"
                 for path in staff.findall(f"{{{SVG}}}path")
                 for match in re.findall(r"[ML][\d.-]+ ([\d.-]+)", path.get("d", ""))]
        texts = [float(text.get("y", "0")) for text in system.iter(f"{{{SVG}}}text")]
        edges.append((min([*lines, *texts]) - CHORD + down, max([*lines, *texts]) + 60 + down))
    for (_, bottom), (above, _) in pairwise(edges):
        yield round(((bottom + above) / 2 + top) / 10, 1)

