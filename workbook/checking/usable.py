"""Checking that a lesson can be used: headings, alt texts, links, what it says of itself, and that its pack builds."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from theorylib.changes.charts import Chart
from theorylib.changes.meters import read_feel
from theorylib.errors import VampError
from theorylib.levels import LEVELS
from theorylib.limits import TEMPO, exact
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import Interval, NoteName, plain
from theorylib.necks.tunings import Tuning
from theorylib.playing.lines import Line
from theorylib.reading.harmony import harmony

from ..handouts.pack import BRIEF, pack_of
from ..handouts.tracks import Sound
from ..lesson.facts import TECHNIQUES, techniques_of
from ..lesson.lesson import Lesson
from ..lesson.saved import About, Output
from ..media.beside import is_recording
from .findings import USABLE, Finding

WIDEST_MM = 180.0  # the text width of an A4 handout
_HEADING = re.compile(r"^(#{1,6})(?=[^\S\n]|$)(.*+)$", re.MULTILINE)
# Brackets end at the next opening one, so that no piece of a text is read twice.
_LINK = re.compile(r"(?<!!)\[[^\[\]]*+\]\(([^)\s\[]++)[^)\[]*+\)")
# A note, but not the name of a scale: an arpeggio over C#7 that is called Fø7 comes from Gb major, in F# major too.
_NOTE = re.compile(r"(?<![\w#♯♭./-])([A-G][#b♯♭])(?![\w#♯♭/]| (?:major|minor|melodic|harmonic)\b)")
_SYMBOL = re.compile(r"(?<![\w#])[A-G][#b]?(?:m|maj|dim|aug|ø|°|Δ|\+|sus|[2-9]|1[13])[\w#+ø°Δ()]*")  # more than a name
_FENCED = re.compile(r"```.*?```|`[^`]*`", re.DOTALL)
_METADATA = ("title", "level", "aims", "minutes", "key", "tempo", "feel")


def check_usable(lesson: Lesson, *, builds: bool = True) -> list[Finding]:
    """Every fault that keeps a lesson from being printed, read aloud, found or followed."""
    found = [*_about(lesson), *_headings(lesson), *_figures(lesson), *_links(lesson), *spelled_against_key(lesson)]
    if builds and not found:
        try:
            pack = pack_of(lesson, sound=Sound(minutes=0.1), paging=BRIEF)  # the rest is only more of the same
            found += [Finding(lesson.path, number, words, USABLE, note=True) for number, words in pack.without_glyphs()]
            found += [Finding(lesson.path, one.cell, one.words, USABLE, note=not one.missing) for one in pack.told]
        except VampError as error:
            found.append(Finding(lesson.path, 0, f"its pack does not build: {error}", USABLE))
    return found


def _about(lesson: Lesson) -> Iterator[Finding]:
    path, about = lesson.path, lesson.about
    for name in _METADATA:
        if not getattr(about, name):
            yield Finding(path, 0, f"the lesson does not say its {name}", USABLE,
                          right=f"add “{name}” to the notebook's metadata under “vampbook”")
    for name, is_right in _RIGHT.items():
        if not _holds(is_right, about):
            said = about.raw[name]
            known = {"level": LEVELS, "techniques": TECHNIQUES}.get(name, ())
            yield Finding(path, 0, f"“{said}” is no {name}", USABLE, right=f"of {', '.join(known)}" if known else "")
    lines: tuple[tuple[int, Line], ...] = ()
    with suppress(VampError):  # said as a fault of truth already
        lines = lesson.lines
    if lines and not techniques_of(line for _, line in lines) and not about.techniques:
        yield Finding(path, 0, "the lesson trains no technique that an index could name", USABLE,
                      right="add “techniques” to the notebook's metadata under “vampbook”")


# What a lesson says of itself: whether it means something, where it says it; one that raises means nothing.
_RIGHT: dict[str, Callable[[About], bool]] = {
    "level": lambda about: not about.level or about.level in LEVELS,
    "minutes": lambda about: not about.minutes or 1 <= int(exact(about.minutes)) <= 600,
    "techniques": lambda about: set(about.techniques) <= set(TECHNIQUES),
    "tempo": lambda about: not about.tempo or TEMPO[0] <= exact(about.tempo) <= TEMPO[1],
    "key": lambda about: not about.key or about.key_scale is not None,
    "feel": lambda about: not about.feel or read_feel(about.feel) is not None,
}


def _holds(is_right: Callable[[About], bool], about: About) -> bool:
    try:
        return is_right(about)
    except VampError:
        return False


def _headings(lesson: Lesson) -> Iterator[Finding]:
    path, last = lesson.path, 0
    for number, text in lesson.prose:
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


def _figures(lesson: Lesson) -> Iterator[Finding]:
    for output in lesson.outputs:
        yield from _shown(lesson.path, output)
    for number, text in lesson.prose:
        for match in re.finditer(r"!\[\s*+\]\(", text):
            line = text.count("\n", 0, match.start()) + 1
            yield Finding(lesson.path, number, "a picture has no alt text", USABLE, line,
                          "say what it shows, in the brackets: ![words](file)")


def _shown(path: Path, output: Output) -> Iterator[Finding]:
    """What keeps an output from a handout, or its picture from being read aloud or fitting on the page."""
    if output.kind == "error":
        yield Finding(path, output.cell, f"the cell raised {output.error}", USABLE)
    if output.kind == "stream":
        yield Finding(path, output.cell, "the cell prints text that no handout shows", USABLE,
                      right="show a value as the cell's last line instead of printing")
    for mime in output.figures:
        said = output.said_of(mime)
        if not str(said.get("alt") or "").strip():
            yield Finding(path, output.cell, "a figure has no alt text", USABLE,
                          right="say in words what it shows, in the output's metadata as “alt”")
        if float(said.get("width_mm") or 0) > WIDEST_MM:
            yield Finding(path, output.cell, f"a figure is {said['width_mm']:g} mm wide", USABLE,
                          right=f"at most {WIDEST_MM:g} mm fit on the page")


_LEADS = ("http://", "https://", "mailto:", "#", "data:", "attachment:")


def _links(lesson: Lesson) -> Iterator[Finding]:
    for number, text in lesson.prose:
        for match in _LINK.finditer(text):
            if not is_recording(match[1]) and not match[1].startswith(_LEADS):
                yield Finding(lesson.path, number, f"the link {match[1]} leads nowhere in a pack", USABLE,
                              text.count("\n", 0, match.start()) + 1, "link to https://… or say it in words")


def spelled_against_key(lesson: Lesson) -> Iterator[Finding]:
    """Note names in prose that the lesson's key and chords spell in another way."""
    try:
        key = lesson.about.key_scale
        charts = [chart for _, chart in lesson.charts] or [line.chart for _, line in lesson.lines]
        strings = {_open_strings(line.tuning) for _, line in lesson.lines}
    except VampError:
        return
    if key is None:
        return
    names = _Names.of(key, charts)
    for number, text in lesson.prose:
        clean = _FENCED.sub(lambda fence: "\n" * fence[0].count("\n"), text)
        for row in strings:  # a tuning keeps its own names, in any key
            clean = clean.replace(row, "")
        for line, paragraph in enumerate(clean.split("\n"), 1):
            for name, right in names.misspelled(paragraph):
                yield Finding(lesson.path, number, f"{name} is spelled {right} in {key}", USABLE, line,
                              f"write {right}")


def _open_strings(tuning: Tuning) -> str:
    """The open strings as a lesson tells them."""
    return " ".join(pitch.name.pretty for pitch in tuning.with_capo(0).open_strings[::-1])


@dataclass(frozen=True, slots=True)
class _Names:
    """How a lesson's music spells its notes: those known everywhere, and those of each scale that prose may name."""

    known: frozenset[str]
    spelled: Mapping[int, str]  # pitch class: the name to write
    scales: Mapping[str, frozenset[str]]

    @classmethod
    def of(cls, key: Scale, charts: Iterable[Chart]) -> _Names:
        known = set(map(str, key.names))
        scales: dict[str, frozenset[str]] = {}
        for chart in charts:
            for stated in filter(None, chart.stated_keys):
                known |= set(map(str, stated.names))
            for reading in harmony(chart).chords if any(event.chord.root for event in chart.events) else ():
                scales[reading.scale.pretty] = frozenset(map(str, reading.scale.names))
            for event in chart.events:
                known |= {str(tone.name) for tone in event.chord.tones} | _colours(event.chord)
        return cls(frozenset(known), {NoteName(name).pitch_class: name for name in sorted(known)}, scales)

    def misspelled(self, paragraph: str) -> Iterator[tuple[NoteName, str]]:
        """(name, how the music spells it) of each note name in a paragraph that is none of the music's own."""
        found = [NoteName(plain(match[1])) for match in _NOTE.finditer(paragraph)]
        if not found:
            return
        own = self.known | _named_in(paragraph)
        own = own.union(*(names for scale, names in self.scales.items() if scale in paragraph))
        for name in found:
            right = self.spelled.get(name.pitch_class)
            if right is not None and str(name) not in own:
                yield name, right


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
