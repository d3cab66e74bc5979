"""A line, a chord and a note in words that a reader who sees no picture can play from.

Bar by bar and beat by beat: chord, then string, fret, note value, finger and technique of each note. Chords are named
as they are spoken (“F sharp minor seventh”); common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

from theorylib.changes.charts import Event
from theorylib.names.chords import Chord
from theorylib.names.spelling import NoteName
from theorylib.playing.lines import Line, Mark, Note
from theorylib.playing.notation import Written, as_published, written_bars

_ORDINALS = {"2": "second", "3": "third", "4": "fourth", "5": "fifth", "6": "sixth", "7": "seventh", "9": "ninth",
             "11": "eleventh", "13": "thirteenth"}
_SIGNS = {"#": "sharp", "b": "flat"}
# Suffix as the kit writes it: words. What is not here is read piece by piece.
_QUALITIES = {"": "major", "m": "minor", "5": "power chord", "6/9": "six nine", "m6/9": "minor six nine",
              "m7b5": "half-diminished seventh", "dim": "diminished", "dim7": "diminished seventh", "aug": "augmented",
              "7alt": "altered seventh", "mMaj7": "minor with major seventh"}
_PIECES = re.compile(r"maj|Maj|m(?!aj)|dim|aug|sus|add|omit|no|alt|[#b]?\d+|/")
_WORDS = {"maj": "major", "Maj": "major", "m": "minor", "dim": "diminished", "aug": "augmented", "sus": "suspended",
          "add": "add", "no": "without", "omit": "without", "alt": "altered", "/": ""}
_VALUES = {1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "sixteenth", 32: "thirty-second", 64: "sixty-fourth"}
_TUPLETS = {3: "triplet", 5: "quintuplet", 7: "septuplet", 9: "nontuplet"}
_WITHIN = {Fraction(0): "", Fraction(1, 4): " e", Fraction(1, 2): " and", Fraction(3, 4): " a",
           Fraction(1, 3): " second triplet", Fraction(2, 3): " third triplet"}
_STEPS = {Fraction(1, 2): "a quarter tone", Fraction(1): "a semitone", Fraction(2): "a tone",
          Fraction(3): "a tone and a half", Fraction(4): "two tones"}
SAID: dict[str, str] = {
    "hammer": "hammer-on", "hammer from nowhere": "hammer-on without a pick", "pull": "pull-off", "tap": "tapped",
    "slide": "slide into it and pick", "legato slide": "slide into it", "dead": "dead note", "palm mute": "palm muted",
    "let ring": "let ring", "harmonic": "natural harmonic", "tapped harmonic": "tapped harmonic", "accent": "accent",
    "staccato": "staccato", "ghost": "ghost note", "tie": "held over", "pick down": "down stroke",
    "pick up": "up stroke", "grace": "grace note", "bend": "bend up", "pre-bend": "bent beforehand",
    "release": "release down", "vibrato": "vibrato", "dynamic": "at velocity",
}


def spoken_name(name: NoteName) -> str:
    """
    >>> spoken_name(NoteName("F##")), spoken_name(NoteName("Bb"))
    ('F double sharp', 'B flat')
    """
    count = {0: "", 1: " ", 2: " double ", 3: " triple "}[abs(name.accidental)]
    return name.letter + count + ("" if not name.accidental else "sharp" if name.accidental > 0 else "flat")


def spoken_chord(chord: Chord) -> str:
    """
    >>> [spoken_chord(Chord.parse(symbol)) for symbol in ("F#m7", "E7#9", "Ebmaj7/G", "G9sus4")]
    ['F sharp minor seventh', 'E seventh sharp nine', 'E flat major seventh over G', 'G ninth suspended fourth']
    """
    if chord.root is None:
        return "no chord"
    suffix = str(chord).split("/")[0] if chord.bass is not None and not str(chord).count("6/9") else str(chord)
    suffix = suffix.removesuffix(f"/{chord.bass}").removeprefix(str(chord.root))
    words = _QUALITIES.get(suffix) or " ".join(filter(None, _pieces(suffix)))
    over = f" over {spoken_name(chord.bass)}" if chord.bass is not None else ""
    return f"{spoken_name(chord.root)} {words}{over}"


def _pieces(suffix: str) -> Iterator[str]:
    for piece in _PIECES.findall(suffix):
        if piece in _WORDS:
            yield _WORDS[piece]
        elif piece[0] in _SIGNS:
            yield f"{_SIGNS[piece[0]]} {_cardinal(piece[1:])}"
        else:
            yield _ORDINALS.get(piece, piece)


def _cardinal(number: str) -> str:
    return {"4": "four", "5": "five", "6": "six", "9": "nine", "11": "eleven", "13": "thirteen"}.get(number, number)


def summary(line: Line) -> str:
    """The short form: what it is, how long, over which chords."""
    chords = list(dict.fromkeys(spoken_chord(event.chord) for event in line.chords()))
    return f"{line.title or 'A line'}: {_count(line.bar_count)} over {', '.join(chords)}."


def spoken_line(line: Line) -> str:
    """The long form: the summary, then every bar."""
    return " ".join([summary(line), *spoken_bars(line)])


def spoken_bars(line: Line) -> list[str]:
    """A sentence for each bar; none is shortened."""
    line = as_published(line)
    chords: dict[int, list[Event]] = {}
    for event in line.chords():
        chords.setdefault(event.bar, []).append(event)
    strokes = line.is_rhythm_part
    return [_bar(line, number, [(item, _struck(line, item, strokes)) for item in bar], chords.get(number, []))
            for number, bar in enumerate(written_bars(line))]


def _bar(line: Line, number: int, bar: list[tuple[Written, str]], chords: list[Event]) -> str:
    start = number * line.chart.bar_beats
    said: list[tuple[Fraction, int, str]] = [
        (event.onset_beats, 0, f"chord {spoken_chord(event.chord)}") for event in chords]
    said += [(item.onset_beats, 1, words) for item, words in bar]
    told, before = [], None
    for onset, _, text in sorted(said, key=lambda one: one[:2]):
        beat = _beat(onset - start, line)
        told.append(text if onset == before else f"{beat}: {text}")
        before = onset
    return f"Bar {number + 1}. " + ("; ".join(told) or "rest") + "."


def _beat(into: Fraction, line: Line) -> str:
    pulse = Fraction(4, line.chart.meter.unit)
    whole, rest = divmod(into / pulse, 1)
    within = _WITHIN.get(rest, f" plus {rest.numerator}/{rest.denominator}")
    return f"beat {int(whole) + 1}{within}"


def _struck(line: Line, item: Written, strokes: bool) -> str:
    value = _value(item)
    if item.is_rest:
        return f"{value} rest"
    if item.tied_from:
        return f"held, {value}"
    notes = [line.notes[index] for index in item.notes]
    if strokes:
        return ", ".join(["dead stroke" if notes[0].marked("dead") else "stroke", value, *_marks(notes[0], ("dead",))])
    each = " and ".join(_note(note) for note in notes)
    shared = list(dict.fromkeys(mark for note in notes for mark in _marks(note)))
    return ", ".join([each, value, *shared])


def _note(note: Note) -> str:
    name = f"{spoken_name(note.pitch.name)} {note.pitch.octave}"
    if note.place is None:
        return name
    fret = "open" if note.fret == 0 else f"fret {note.fret}"
    finger = f" finger {note.finger}" if note.finger is not None else ""
    return f"{name}, string {note.string} {fret}{finger}"


def _marks(note: Note, known: tuple[str, ...] = ()) -> Iterator[str]:
    for mark in note.marks:
        if mark.kind not in known:
            yield _mark(mark)


def _mark(mark: Mark) -> str:
    words, at = SAID.get(mark.kind, mark.kind), ""
    if mark.at_beats:
        at = f" after {mark.at_beats} beat" + ("s" if mark.at_beats > 1 else "")
    if mark.kind in ("bend", "pre-bend", "release"):
        return f"{words} {_STEPS.get(Fraction(mark.value), f'{mark.value} semitones')}{at}"
    if mark.kind == "grace":
        side = "above" if mark.value > 0 else "below"
        return f"{words} from {abs(int(mark.value))} frets {side}"
    if mark.kind == "dynamic":
        return f"{words} {int(mark.value)}"
    return words + at


def _value(item: Written) -> str:
    dots = {0: "", 1: "dotted ", 2: "double dotted "}[item.dots]
    tuplet = f"{_TUPLETS.get(item.tuplet[0], f'tuplet of {item.tuplet[0]}')} " if item.tuplet else ""
    return f"{dots}{tuplet}{_VALUES[item.value]}"


def _count(bars: int) -> str:
    return f"{bars} bar{'' if bars == 1 else 's'}"
