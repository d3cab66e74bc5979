"""Checking that a lesson can be used: headings, alt texts, links, what it says of itself, and that its pack builds."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from theorylib.changes.meters import read_feel
from theorylib.errors import VampError
from theorylib.levels import LEVELS
from theorylib.limits import TEMPO, exact
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import Interval, NoteName, plain
from theorylib.playing.lines import Line
from theorylib.reading.harmony import harmony

from ..handouts.pack import pack_files
from ..handouts.printing import told, unprintable
from ..handouts.tracks import Sound
from ..handouts.tree import tree_of
from ..lesson.facts import TECHNIQUES, techniques_of
from ..lesson.stored import charts_in, lines_in, read_lesson
from ..mimes import SVG_MIME, stored_svg
from .findings import USABLE, Finding

WIDEST_MM = 180.0  # the text width of an A4 handout
_HEADING = re.compile(r"^(#{1,6})(?=[^\S\n]|$)(.*+)$", re.MULTILINE)
# Brackets end at the next opening one, so that no piece of a text is read twice.
_LINK = re.compile(r"\[[^\[\]]*+\]\(([^)\s\[]++)[^)\[]*+\)")
_NOTE = re.compile(r"(?<![\w#♯♭./-])([A-G][#b♯♭])(?![\w#♯♭/])")
_SYMBOL = re.compile(r"(?<![\w#])[A-G][#b]?(?:m|maj|dim|aug|ø|°|Δ|\+|sus|[2-9]|1[13])[\w#+ø°Δ()]*")  # more than a name
_FENCED = re.compile(r"```.*?```|`[^`]*`", re.DOTALL)
_METADATA = ("title", "level", "aims", "minutes", "key", "tempo", "feel")


def check_usable(path: Path, *, builds: bool = True) -> list[Finding]:
    """Every fault that keeps a lesson from being printed, read aloud, found or followed."""
    try:
        notebook = read_lesson(path)
    except VampError:
        return []  # said as a fault of truth already
    found = [*_about(path, notebook), *_headings(path, notebook), *_figures(path, notebook), *_links(path, notebook),
             *spelled_against_key(path, notebook)]
    if builds and not found:
        try:
            pack_files(notebook, path, sound=Sound(minutes=0.1), bank=False)  # the rest is only more of the same
            found += [Finding(path, number, told(signs), USABLE, note=True)
                      for number, signs in unprintable(tree_of(notebook)).items()]
        except VampError as error:
            found.append(Finding(path, 0, f"its pack does not build: {error}", USABLE))
    return found


def _about(path: Path, notebook: Mapping[str, Any]) -> Iterator[Finding]:
    about = notebook.get("metadata", {}).get("vampbook", {})
    for name in _METADATA:
        if not about.get(name):
            yield Finding(path, 0, f"the lesson does not say its {name}", USABLE,
                          right=f"add “{name}” to the notebook's metadata under “vampbook”")
    readers = {"level": lambda value: value in LEVELS or None, "minutes": lambda value: 1 <= int(value) <= 600 or None,
               "techniques": lambda value: set(value) <= set(TECHNIQUES) or None,
               "tempo": lambda value: TEMPO[0] <= exact(value) <= TEMPO[1] or None,
               "key": Scale.parse, "feel": read_feel}
    for name, read in readers.items():
        if about.get(name):
            try:
                good = read(about[name]) is not None
            except (VampError, ValueError, TypeError):
                good = False
            if not good:
                known = {"level": LEVELS, "techniques": TECHNIQUES}.get(name, ())
                yield Finding(path, 0, f"“{about[name]}” is no {name}", USABLE,
                              right=f"of {', '.join(known)}" if known else "")
    lines: tuple[tuple[int, Line], ...] = ()
    with suppress(VampError):  # said as a fault of truth already
        lines = lines_in(notebook)
    if lines and not techniques_of(line for _, line in lines) and not about.get("techniques"):
        yield Finding(path, 0, "the lesson trains no technique that an index could name", USABLE,
                      right="add “techniques” to the notebook's metadata under “vampbook”")


def _headings(path: Path, notebook: Mapping[str, Any]) -> Iterator[Finding]:
    last = 0
    for number, text in _prose(notebook):
        for match in _HEADING.finditer(_FENCED.sub(lambda fence: "\n" * fence[0].count("\n"), text)):
            level, line = len(match[1]), text.count("\n", 0, match.start()) + 1
            words = match[2].strip().rstrip("#").strip()
            if not words:
                yield Finding(path, number, "a heading without words", USABLE, line)
            if level == 1 and last:
                yield Finding(path, number, f"a second title “{words}”", USABLE, line, "begin it with ##")
            elif level > last + 1:
                yield Finding(path, number, f"the heading “{words}” jumps from level {last} to {level}", USABLE,
                              line, f"begin it with {'#' * (last + 1)}")
            last = level
    if not last:
        yield Finding(path, 0, "the lesson has no heading", USABLE, right="begin it with # and its title")


def _figures(path: Path, notebook: Mapping[str, Any]) -> Iterator[Finding]:
    for number, cell in enumerate(notebook["cells"], 1):
        for output in cell.get("outputs", ()):
            data, about = output.get("data", {}), output.get("metadata", {})
            if output.get("output_type") == "error":
                yield Finding(path, number, f"the cell raised {output.get('ename')}: {output.get('evalue')}", USABLE)
            if output.get("output_type") == "stream":
                yield Finding(path, number, "the cell prints text that no handout shows", USABLE,
                              right="show a value as the cell's last line instead of printing")
            figures = {"image/png"} & data.keys() | ({SVG_MIME} if SVG_MIME in data or stored_svg(output) else set())
            for mime in figures:
                details = {**about, **about.get(mime, {})}
                if not str(details.get("alt") or "").strip():
                    yield Finding(path, number, "a figure has no alt text", USABLE,
                                  right="say in words what it shows, in the output's metadata as “alt”")
                if float(details.get("width_mm") or 0) > WIDEST_MM:
                    yield Finding(path, number, f"a figure is {details['width_mm']:g} mm wide", USABLE,
                                  right=f"at most {WIDEST_MM:g} mm fit on the page")
    for number, text in _prose(notebook):
        for match in re.finditer(r"!\[\s*+\]\(", text):
            yield Finding(path, number, "a picture has no alt text", USABLE, text.count("\n", 0, match.start()) + 1)


def _links(path: Path, notebook: Mapping[str, Any]) -> Iterator[Finding]:
    for number, text in _prose(notebook):
        for match in _LINK.finditer(text):
            if not match[1].startswith(("http://", "https://", "mailto:", "#", "data:", "attachment:")):
                yield Finding(path, number, f"the link {match[1]} leads nowhere in a pack", USABLE,
                              text.count("\n", 0, match.start()) + 1, "link to https://… or say it in words")


def spelled_against_key(path: Path, notebook: Mapping[str, Any]) -> Iterator[Finding]:
    """Note names in prose that the lesson's key and chords spell in another way."""
    try:
        key = Scale.parse(str(notebook["metadata"]["vampbook"]["key"]))
        charts = charts_in(notebook) or tuple(line.chart for _, line in lines_in(notebook))
    except (KeyError, VampError):
        return
    known = {str(name) for name in key.names}
    scales: dict[str, set[str]] = {}  # a scale of these changes, as prose calls it: its notes
    for chart in charts:
        for stated in filter(None, chart.stated_keys):
            known |= set(map(str, stated.names))
        for reading in harmony(chart).chords if any(event.chord.root for event in chart.events) else ():
            scales[reading.scale.pretty] = set(map(str, reading.scale.names))
        for event in chart.events:
            known |= {str(tone.name) for tone in event.chord.tones} | _colours(event.chord)
    spelled = {NoteName(name).pitch_class: name for name in sorted(known)}
    for number, text in _prose(notebook):
        clean = _FENCED.sub(lambda fence: "\n" * fence[0].count("\n"), text)
        for line, paragraph in enumerate(clean.split("\n"), 1):
            own = known | _named_in(paragraph)
            own = own.union(*(names for scale, names in scales.items() if scale in paragraph))
            for match in _NOTE.finditer(paragraph):
                name = NoteName(plain(match[1]))
                right = spelled.get(name.pitch_class)
                if right is not None and str(name) not in own:
                    yield Finding(path, number, f"{name} is spelled {right} in {key}", USABLE, line, f"write {right}")


def _named_in(paragraph: str) -> set[str]:
    """The tones of chords that a paragraph itself names: a substitute's notes keep its own spelling."""
    found: set[str] = set()
    for match in _SYMBOL.finditer(plain(paragraph)):
        try:
            found |= {str(tone.name) for tone in Chord.parse(match[0]).tones}
        except VampError:
            continue
    return found


def _colours(chord: Chord) -> set[str]:
    """The names that a chord's usual tensions have over its root, by which substitutes are explained."""
    if chord.root is None:
        return set()
    degrees = ("9", "11", "13", "b13", "b5") if chord.is_minor else ("9", "13", "b9", "#9", "#11", "b5", "#5", "b13")
    return {str(chord.root.up(Interval.of_degree(degree))) for degree in degrees}


def _prose(notebook: Mapping[str, Any]) -> Iterator[tuple[int, str]]:
    for number, cell in enumerate(notebook["cells"], 1):
        if cell["cell_type"] == "markdown":
            yield number, "".join(cell["source"])
