"""Styles as text: the reader, which says the line of what it cannot read, and the printer, from one vocabulary.

    # what follows a lone # is a comment
    style: quarry rock
    steps: 2                      # parts of a pulse
    kit: sticks                   # or brushes
    comp voice: guitar            # keys, guitar, organ or pad
    pocket: snare 4, bass -2      # milliseconds, late is positive

    [drums main]                  # light, main and full; main stands for one that is missing
    hat: xo xo xo xo              # a row is a bar, a space between pulses; more rows of a drum are alternatives
    kick: X. .. X. ..
    kick: X. .x X. ..

    [fills]                       # the pulses that a fill lasts, then what sounds together
    2: snare x. xx, low tom .. .x

    [bass main]
    R- 5- R- a-

    [comp main]
    X- .x -- .P

What the signs mean is SIGNS, which a copy carries above its rows.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

from theorylib.errors import VampError, as_text, closest, shown

from ..files import read_text
from .style import (
    BASS_SIGNS,
    BUSES,
    COMP_SIGNS,
    COMP_VOICES,
    DENSITIES,
    DRUM_KEYS,
    ENDINGS,
    KITS,
    MAIN,
    POCKETS,
    STICKS,
    SWEEP,
    VELOCITIES,
    VOICINGS,
    Fill,
    Kit,
    Style,
    StyleError,
)

FOLDER = Path(__file__).parent / "styles"
SUFFIX = ".txt"  # of a style's file
MOST_SIGNS, MOST_LINES = 20_000, 600
_COMMENT = re.compile(r"(?:^|\s)#(?:\s.*)?$")
_STEPS = (1, 6)
SIGNS = """A row is a bar, a space between its pulses; more rows of a part are alternatives, the usual one first.
[drums main] stands for light and full where they are missing.
Drums: X loud, x plain, o soft, g a ghost, O an open hat (in a row of the hat), a dot silent.
Bass: R root or slash bass, 8 its octave above, 3 5 6 7 9 that degree of the chord or its scale, c a chord tone,
s a step of the scale, a an approach to the next note, x a dead note, P the next chord's root, early; a dash holds on.
Comping: X accented, x plain, P the next chord, early; a dash holds on.
[fills]: the pulses that a fill lasts, then what sounds together. pocket: milliseconds, late is positive.
kit: sticks or brushes, which have a sweep. comp voice: keys, guitar, organ or pad.
mix: decibels more or less of drums, bass, comp, click. swing: hundredths of the feel's swing that a part takes."""
_PARTS = ("drums", "bass", "comp")
Blocks = Mapping[str, list[tuple[int, str]]]  # heading: number and text of each line under it
_HEADINGS = (*(f"{part} {density}" for part in _PARTS for density in DENSITIES), "fills")


def _whole(text: str, low: int, high: int) -> int:
    if not re.fullmatch(r"-?\d{1,4}", text) or not low <= int(text) <= high:
        raise ValueError(f"a whole number from {low} to {high}")
    return int(text)


def _one_of(choices: tuple[str, ...]) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text not in choices:
            raise ValueError(", ".join(choices))
        return text
    return read


def _numbers(names: tuple[str, ...], low: int, high: int) -> Callable[[str], Mapping[str, int]]:
    """A reader of "snare 4, bass -2"."""
    def read(text: str) -> Mapping[str, int]:
        found = {}
        for part in filter(None, (part.strip() for part in text.split(","))):
            name, _, number = part.rpartition(" ")
            if name.strip() not in names:
                raise ValueError(f"a name and a number; the names are {', '.join(names)}")
            found[name.strip()] = _whole(number, low, high)
        return found
    return read


def _shares(text: str) -> Mapping[str, Fraction]:
    """"comp 80": hundredths of the feel's swing."""
    return {name: Fraction(share, 100) for name, share in _numbers(_PARTS, 0, 100)(text).items()}


def _listed(values: Mapping[str, Any]) -> str:
    return ", ".join(f"{name} {value}" for name, value in values.items())


# word of the heading: (field of Style, reader, printer)
_WORDS: dict[str, tuple[str, Callable[[str], Any], Callable[[Any], str]]] = {
    "style": ("name", str, str),
    "steps": ("steps", lambda text: _whole(text, *_STEPS), str),
    "kit": ("kit", _one_of(KITS), str),
    "comp voice": ("comp_voice", _one_of(COMP_VOICES), str),
    "voicing": ("voicing", _one_of(VOICINGS), str),
    "ending": ("ending", _one_of(ENDINGS), str),
    "thin above": ("thin_above", lambda text: _whole(text, 20, 400), str),
    "drift": ("drift_ms", lambda text: _whole(text, 0, 20), str),
    "pocket": ("pocket_ms", _numbers(POCKETS, -40, 40), _listed),
    "mix": ("mix_db", _numbers(BUSES, -24, 24), _listed),
    "swing": ("swing", _shares, lambda shares: _listed({name: int(100 * one) for name, one in shares.items()})),
}


def read_style(text: str) -> Style:
    """A style from its text; raises StyleError, which names the line and what was expected there.

    >>> read_style(style_text(style_named("rock"))) == style_named("rock")
    True
    """
    written = as_text(text, "style", "the text of a style", StyleError)
    if len(written) > MOST_SIGNS or written.count("\n") > MOST_LINES:
        raise StyleError("a style as long as this", expected=f"{MOST_SIGNS} signs and {MOST_LINES} lines at most")
    head: dict[str, Any] = {}
    blocks: dict[str, list[tuple[int, str]]] = {}
    heading = ""
    for number, line in enumerate(written.splitlines(), 1):
        said = _COMMENT.sub("", line).strip()
        if not said:
            continue
        if said.startswith("["):
            heading = _heading(said, number, blocks)
        elif heading:
            blocks[heading].append((number, said))
        else:
            name, value = _headed(said, number)
            head[name] = value
    return _made(head, blocks)


def _heading(said: str, number: int, blocks: dict[str, list[tuple[int, str]]]) -> str:
    heading = " ".join(said.strip("[]").split())
    if heading not in _HEADINGS:
        raise StyleError(f"“{said:.40}” is no part of a style", value=said, where=f"line {number}",
                         expected=", ".join(f"[{one}]" for one in _HEADINGS), nearest=closest(heading, _HEADINGS))
    blocks.setdefault(heading, [])
    return heading


def _headed(said: str, number: int) -> tuple[str, Any]:
    word, colon, value = said.partition(":")
    word, value = " ".join(word.split()), " ".join(value.split())
    if not colon or word not in _WORDS:
        raise StyleError(f"“{said:.40}” is no word of a style", value=said, where=f"line {number}",
                         expected=", ".join(f"{one}:" for one in _WORDS), nearest=closest(word, _WORDS))
    name, read, _ = _WORDS[word]
    try:
        return name, read(value)
    except ValueError as wrong:
        raise StyleError(f"“{value:.40}” after “{word}:”", value=value, where=f"line {number}",
                         expected=str(wrong)) from None


def _made(head: Mapping[str, Any], blocks: Blocks) -> Style:
    """The style of a heading and its blocks of rows; raises StyleError for what it lacks, or does not fit together."""
    missing = [word for word, name in (("style:", "name"), ("steps:", "steps")) if name not in head]
    missing += [f"[{part} {MAIN}]" for part in _PARTS if not blocks.get(f"{part} {MAIN}")]
    if missing:
        raise StyleError(f"a style without {missing[0]}", value=missing[0], expected=", ".join(missing))
    steps = head["steps"]
    drums = {density: _kit(lines, steps) for density, lines in _by_density("drums", blocks)}
    bass, comp = (_rows(part, blocks, steps, signs) for part, signs in (("bass", BASS_SIGNS), ("comp", COMP_SIGNS)))
    _check_sweeps(head, blocks)
    kit_rows = [row for kit in drums.values() for _, rows in kit for row in rows]
    _check_lengths([*kit_rows, *(row for part in (bass, comp) for rows in part.values() for row in rows)])
    return Style(**head, drums=drums, fills=_fills(blocks.get("fills", []), steps), bass=bass, comp=comp)


def _by_density(part: str, blocks: Blocks) -> list[tuple[str, list[tuple[int, str]]]]:
    """The lines of a part at each density that it has."""
    return [(density, lines) for density in DENSITIES if (lines := blocks.get(f"{part} {density}"))]


def _rows(part: str, blocks: Blocks, steps: int, signs: str) -> dict[str, tuple[str, ...]]:
    """The rows of a part that plays one thing at a time, by density."""
    return {density: tuple(_row(said, number, steps, signs) for number, said in lines)
            for density, lines in _by_density(part, blocks)}


def _check_sweeps(head: Mapping[str, Any], blocks: Blocks) -> None:
    """Only a brush can be drawn across the snare."""
    sweeps = [number for _, lines in _by_density("drums", blocks) for number, said in lines if said.startswith(SWEEP)]
    if sweeps and head.get("kit", STICKS) == STICKS:
        raise StyleError("a sweep with sticks", value=SWEEP, where=f"line {sweeps[0]}", expected="“kit: brushes” above")


def _check_lengths(rows: Iterable[str]) -> None:
    """All parts go round together: their rows have as many pulses."""
    lengths = sorted({len(row.split()) for row in rows})
    if len(lengths) > 1:
        raise StyleError(f"rows of {' and '.join(map(str, lengths))} pulses", value=lengths,
                         expected="as many pulses in every row of a style")


def _kit(lines: list[tuple[int, str]], steps: int) -> Kit:
    found: dict[str, list[str]] = {}
    for number, said in lines:
        name, _, row = said.partition(":")
        found.setdefault(_drum(name.strip(), number), []).append(_row(row, number, steps, "".join(VELOCITIES) + "."))
    return tuple((name, tuple(rows)) for name, rows in found.items())


def _drum(name: str, number: int) -> str:
    if name not in DRUM_KEYS:
        raise StyleError(f"“{name:.40}” is no drum", value=name, where=f"line {number}", expected=", ".join(DRUM_KEYS),
                         nearest=closest(name, DRUM_KEYS))
    return name


def _row(text: str, number: int, steps: int, signs: str) -> str:
    pulses = text.split()
    strange = [sign for pulse in pulses for sign in pulse if sign not in signs]
    if not pulses or strange:
        raise StyleError(f"“{text.strip():.40}” is no row", value=text.strip(), where=f"line {number}",
                         expected=f"signs of {signs}, a space between pulses")
    uneven = [pulse for pulse in pulses if len(pulse) != steps]
    if uneven:
        raise StyleError(f"a pulse “{uneven[0]:.20}”", value=uneven[0], where=f"line {number}",
                         expected=f"{steps} signs in every pulse, as “steps:” says")
    if "P" in "".join(pulses[:-1]) or pulses[-1].find("P", 0, -1) >= 0:
        raise StyleError("a P before the end of its bar", value=text.strip(), where=f"line {number}",
                         expected="P as the last sign: the next chord, early")
    return " ".join(pulses)


def _fills(lines: list[tuple[int, str]], steps: int) -> Mapping[int, tuple[Fill, ...]]:
    found: dict[int, list[Fill]] = {}
    for number, said in lines:
        pulses, _, parts = said.partition(":")
        try:
            length = _whole(pulses.strip(), 1, 8)
        except ValueError as wrong:
            raise StyleError(f"“{said:.40}” is no fill", value=said, where=f"line {number}",
                             expected=f"the pulses it lasts, {wrong}, then a colon") from None
        fill = []
        for part in parts.split(","):
            match = re.match(r"\s*([a-z]+(?: [a-z]+)*?) (?=[XxogO.]+(?: |$))(.*)", part)
            if match is None:
                raise StyleError(f"“{part.strip():.40}” is no part of a fill", value=part.strip(),
                                 where=f"line {number}", expected="a drum and its row, such as snare x. xx")
            row = _row(match[2], number, steps, "".join(VELOCITIES) + ".")
            if len(row.split()) != length:
                raise StyleError(f"“{row}” in a fill of {length}", value=row, where=f"line {number}",
                                 expected=f"{length} pulses")
            fill.append((_drum(match[1], number), row))
        found.setdefault(length, []).append(tuple(fill))
    return {length: tuple(fills) for length, fills in sorted(found.items())}


def style_text(style: Style) -> str:
    """The text of a style, which reads back to the same."""
    return "\n".join(_lines(style)) + "\n"


def _lines(style: Style) -> Iterator[str]:
    for word, (name, _, written) in _WORDS.items():
        value = written(getattr(style, name))
        if value:
            yield f"{word}: {value}"
    for density, kit in style.drums.items():
        yield from ("", f"[drums {density}]", *(f"{drum}: {row}" for drum, rows in kit for row in rows))
    if style.fills:
        yield from ("", "[fills]", *(f"{length}: " + ", ".join(f"{drum} {row}" for drum, row in fill)
                                     for length, fills in style.fills.items() for fill in fills))
    for part, densities in (("bass", style.bass), ("comp", style.comp)):
        for density, rows in densities.items():
            yield from ("", f"[{part} {density}]", *rows)


def style_names() -> tuple[str, ...]:
    """The names of the styles that come with us."""
    return tuple(sorted(path.stem.replace("_", " ") for path in FOLDER.glob("*.txt")))


@lru_cache(maxsize=32)
def style_named(name: str) -> Style:
    """A style that comes with us; raises StyleError with the nearest names."""
    names = style_names()
    if name not in names:
        file = [name + SUFFIX] if Path(name + SUFFIX).is_file() else []
        raise StyleError(f"“{name:.40}” is no style", value=name,
                         expected=f"one of {', '.join(names)}, the text of a style or its file",
                         nearest=[*file, *closest(name, names)])
    return read_style((FOLDER / f"{name.replace(' ', '_')}.txt").read_text(encoding="utf-8"))


def as_style(value: Style | str | Path) -> Style:
    """A style, by its name, its text or its file (a name that ends in .txt)."""
    if isinstance(value, Style):
        return value
    text = str(value)
    if "\n" in text:
        return read_style(text)
    if not text.endswith(SUFFIX):
        return style_named(text)
    return _from_file(Path(text))


def _from_file(path: Path) -> Style:
    """The style of a file, an error with its name; of one that is not there the nearest beside it."""
    if not path.is_file():
        beside = [one.name for one in path.parent.glob("*.txt")] if path.parent.is_dir() else []
        raise StyleError(f"there is no {shown(path, 80)}", value=str(path), expected="the file of a style",
                         nearest=[str(path.parent / name) for name in closest(path.name, beside)])
    try:
        return read_style(read_text(path))
    except VampError as error:
        raise error.at(", ".join(filter(None, (shown(path, 80), error.where)))) from error


def copied_text(name: str) -> str:
    """The text of a style that comes with us, to be changed: above it what its signs mean."""
    style_named(name)
    lines = (FOLDER / f"{name.replace(' ', '_')}.txt").read_text(encoding="utf-8").splitlines()
    rows = [line for line in lines if not line.startswith("# ")]
    return "\n".join(["# A style: what a band plays in a bar. Change what you like, and the name after “style:” too.",
                      *(f"# {line}".rstrip() for line in SIGNS.splitlines()), "", *rows]) + "\n"
