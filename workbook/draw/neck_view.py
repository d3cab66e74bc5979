"""What stands where on a neck: marks in neck coordinates, for the SVG and the matplotlib renderers alike.

Conventions: x is measured in frets from the nut (a note at fret f stands at f - 0.5), y in strings from the thinnest
(string 1 at 0), which is on top as in TAB. The function of a note in the chord decides the marker's shape; colour only
supports it, and every marker carries its degree, name or finger.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil
from typing import Literal, get_args

from theorylib.errors import ChordError, NeckError, ScaleError, closest, shown
from theorylib.limits import is_whole
from theorylib.names.arpeggios import GROUPS, Arpeggio, as_arpeggio
from theorylib.names.chords import Chord
from theorylib.names.scales import KINDS, Scale
from theorylib.names.spelling import Interval, NoteName, pretty_accidentals
from theorylib.necks.areas import in_position, nearest_tones
from theorylib.necks.positions import as_position, covered
from theorylib.necks.shapes import BEND_SEMITONES, Bend, Shape, Target
from theorylib.necks.tunings import STANDARD, Tuning
from theorylib.playing.lines import Line
from theorylib.reading.chordscales import counted_degree, degree_over, function_of

from .spoken import spoken_chord

Labels = Literal["degrees", "names", "fingers"]
LABELS: tuple[Labels, ...] = get_args(Labels)
ROLES = ("root", "third", "fifth", "seventh", "tension", "scale")
DEFAULT_FRETS = (0, 15)
CURL_LABEL = "¼"
_SIZES = {Fraction(1, 2): "a quarter tone", 1: "a semitone", 2: "a tone", 3: "a tone and a half"}
_OVER = re.compile(r"\bover ([^\s,]+)")


@dataclass(frozen=True, slots=True)
class Dot:
    """A note on the neck: where, what is written in its marker, and its role (a member of ROLES)."""

    string: int
    fret: int
    label: str
    role: str
    spoken: str


@dataclass(frozen=True, slots=True)
class Arrow:
    """From a note along its string to the fret whose pitch it reaches: a bend, or the way to the next chord's tone."""

    string: int
    from_fret: int
    to_fret: float  # between two frets for a curl
    label: str
    kind: str  # "bend" or "hint"
    spoken: str


@dataclass(frozen=True, slots=True)
class Turn:
    """How a neck lies on the page: for which hand, lying or upright, at which size."""

    left_handed: bool = False
    vertical: bool = False
    large_print: bool = False


@dataclass(frozen=True, slots=True)
class NeckView:
    """All that a renderer needs: the window of frets (both ends shown), tuning, dots, and how to turn the neck."""

    dots: tuple[Dot, ...]
    tuning: Tuning
    first_fret: int
    last_fret: int
    turn: Turn = Turn()
    caption: str = ""
    arrows: tuple[Arrow, ...] = ()

    @property
    def strings(self) -> int:
        return len(self.tuning.open_strings)

    @property
    def roles(self) -> tuple[str, ...]:
        """The roles present, in the order of ROLES."""
        present = {dot.role for dot in self.dots}
        return tuple(role for role in ROLES if role in present)


@dataclass(frozen=True, slots=True)
class Window:
    """The part of a neck that is shown: around a position, or between two frets, or whatever is used."""

    tuning: Tuning = STANDARD
    position: int | None = None
    frets: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Hearing:
    """How notes are heard and labelled: over which chord, on to which, up to which bend (in semitones)."""

    over: Chord | None = None
    next_chord: Chord | None = None
    labels: Labels = LABELS[0]
    bends: int = 2


@dataclass(frozen=True, slots=True)
class Neck:
    """A neck as it is asked for, before anything is drawn; raises NeckError for what no neck shows."""

    what: Chord | Scale | Arpeggio | Line | Shape
    window: Window = Window()
    heard: Hearing = Hearing()
    turn: Turn = Turn()
    caption: str | None = None  # None: what stands on it

    def __post_init__(self) -> None:
        if isinstance(self.what, Line):  # it lies on its own neck
            object.__setattr__(self, "window", replace(self.window, tuning=self.what.tuning))
        _check(self.heard, self.window)


def neck_view(neck: Neck) -> NeckView:
    """What stands where on a neck, before any renderer."""
    window, heard, subject = neck.window, neck.heard, neck.what
    if isinstance(subject, Shape):
        marks = _shape_marks(subject, heard, window.tuning)
    elif isinstance(subject, Line):
        marks = Marks(_line_dots(subject, heard.labels), subject.title)
    else:
        marks = _tone_marks(subject, heard, window)
    if heard.next_chord is not None:
        marks = _leading_on(marks, heard.next_chord, window.tuning)
    first, last = _shown(marks, window, tight=isinstance(subject, Shape))
    dots = tuple(dot for dot in marks.dots if first <= dot.fret <= last)
    arrows = tuple(arrow for arrow in marks.arrows if first <= arrow.to_fret <= last)
    caption = marks.title if neck.caption is None else neck.caption
    return NeckView(dots, window.tuning, first, last, neck.turn, caption, arrows)


@dataclass(frozen=True, slots=True)
class Marks:
    """What is written on a neck, and what it is."""

    dots: tuple[Dot, ...]
    title: str
    arrows: tuple[Arrow, ...] = ()


def _check(heard: Hearing, window: Window) -> None:
    if heard.labels not in LABELS:
        raise NeckError(f"“{shown(heard.labels)}” are not labels", value=heard.labels, expected=", ".join(LABELS),
                        nearest=closest(str(heard.labels), LABELS))
    if window.position is not None:
        as_position(window.position, window.tuning)
    if window.frets is not None:
        (low, high), most = window.frets, window.tuning.last_fret
        if not is_whole(high, 0, most) or not is_whole(low, 0, high):
            raise NeckError(f"no frets {shown(low)} to {shown(high)} on this neck", value=(low, high),
                            expected=f"a window within 0 to {most}")
    if not is_whole(heard.bends, 0, BEND_SEMITONES[-1]):
        raise NeckError(f"bends of {shown(heard.bends)} semitones", value=heard.bends,
                        expected=f"0 to {BEND_SEMITONES[-1]}")


def as_subject(what: object) -> Chord | Scale | Arpeggio | Line | Shape:
    """What stands on a neck, from itself or the text of a chord, a scale or an arpeggio; raises NeckError."""
    subject = _read(what) if isinstance(what, str) else what
    if isinstance(subject, Chord | Scale | Arpeggio | Line | Shape):
        return subject
    raise NeckError(f"“{shown(what)}” does not stand on a neck", value=what,
                    expected="a chord, a scale, an arpeggio, a fingered line or a target shape")


def _shape_marks(shape: Shape, heard: Hearing, tuning: Tuning) -> Marks:
    """The targets of a shape, with its bends up to so many semitones."""
    chord = heard.over
    if chord is None:
        raise NeckError("a target shape stands over a chord", value=str(shape.geometry), expected="over=chord")
    dots = tuple(_target_dot(place, tuning, chord, heard.labels) for place in shape.places)
    arrows = tuple(_bend_arrow(bend, chord) for bend in shape.bends if bend.semitones <= heard.bends)
    return Marks(dots, f"Target notes over {chord.pretty}" + ("; arrows are bends" if arrows else ""), arrows)


def _tone_marks(subject: Chord | Scale | Arpeggio, heard: Hearing, window: Window) -> Marks:
    """Every place of a chord's, scale's or arpeggio's notes in the window."""
    notes = _notes(subject, heard.over)
    is_heard_in = heard.over or (Scale(subject.root, "major") if isinstance(subject, Arpeggio) else subject)
    is_arpeggio = not isinstance(subject, Scale)
    look = _Look(is_heard_in, heard.labels, colours=is_arpeggio, stacked=is_arpeggio and heard.over is not None)
    dots = tuple(_dot(place, *notes[window.tuning.midi(place.string, place.fret) % 12], look)
                 for place in _places(notes, window))
    title = subject.pretty + (f" over {heard.over.pretty}" if heard.over else "")
    return Marks(dots, title + (f", position {window.position}" if window.position else ""))


def _leading_on(marks: Marks, following: Chord, tuning: Tuning) -> Marks:
    """The same marks with the ways to the next chord's tones."""
    return replace(marks, arrows=marks.arrows + _hints(marks.dots, following, tuning),
                   title=f"{marks.title}, on to {following.pretty}")


def mirrored(view: NeckView) -> NeckView:
    """The same neck for the other hand; twice gives the first again."""
    return replace(view, turn=replace(view.turn, left_handed=not view.turn.left_handed))


def _read(text: str) -> Chord | Scale | Arpeggio:
    """One word is a chord, more are a scale, else an arpeggio without a symbol (A minor pentatonic: a scale)."""
    kind = text.strip().partition(" ")[2]
    try:
        if not kind:
            return Chord.parse(text)
        return as_arpeggio(text) if kind in GROUPS and kind not in KINDS else Scale.parse(text)
    except (ChordError, ScaleError) as error:
        raise NeckError(error.message, value=text, nearest=error.nearest,
                        expected="a chord such as Bm7, a scale such as B dorian or an arpeggio such as "
                                 "D quartal triad") from error


def _notes(subject: Chord | Scale | Arpeggio, over: Chord | None) -> dict[int, tuple[NoteName, str]]:
    """Pitch class to (name, degree); the degree is over the chord where there is one."""
    if isinstance(subject, (Chord, Arpeggio)):
        return {tone.name.pitch_class: (tone.name, tone.degree if over is None or over.root is None else function_of(
            over, (tone.name.pitch_class - over.root.pitch_class) % 12)) for tone in subject.tones}
    if over is None:
        return {name.pitch_class: (name, degree) for name, degree in zip(subject.names, subject.degrees, strict=True)}
    found = {name.pitch_class: (name, degree_over(over, name.fifths, name.pitch_class)) for name in subject.names}
    return found | {tone.name.pitch_class: (tone.name, tone.degree) for tone in over.tones}


def _places(notes: dict[int, tuple[NoteName, str]], window: Window) -> Iterable[Target]:
    tuning = window.tuning
    if window.position is not None:
        return in_position({pitch: degree for pitch, (_, degree) in notes.items()}, window.position, tuning)
    low, high = window.frets or (DEFAULT_FRETS[0], min(DEFAULT_FRETS[1], tuning.last_fret))
    return [Target(string, fret, notes[tuning.midi(string, fret) % 12][1]) for string in tuning.strings
            for fret in range(low, high + 1) if tuning.midi(string, fret) % 12 in notes]


@dataclass(frozen=True, slots=True)
class _Look:
    """What decides a note's marker: the chord or scale that it is heard in, what is written, whether it is a colour."""

    heard_in: Chord | Scale
    labels: Labels
    colours: bool = False
    stacked: bool = False  # an arpeggio over another chord: its colours are 9, 11 and 13 over a triad too


def _dot(place: Target, name: NoteName, degree: str, look: _Look) -> Dot:
    counted = degree
    if isinstance(look.heard_in, Chord) and not look.stacked:
        counted = counted_degree(degree, look.heard_in)
    label = name.pretty if look.labels == "names" else pretty_accidentals(counted)
    spoken = f"{name.pretty} ({pretty_accidentals(counted)})"
    return Dot(place.string, place.fret, label, role_of(degree, look.heard_in, colours=look.colours), spoken)


def role_of(degree: str, chord: Chord | Scale, *, colours: bool = False) -> str:
    """Which marker a degree gets: by its function in the chord, or in the scale where there is no chord.

    With `colours`, a note that is no chord tone is a tension (an arpeggio over another chord), else a scale note.
    """
    number = degree.lstrip("#b")
    if isinstance(chord, Chord) and degree not in chord.degrees:
        return "tension" if colours else "scale"
    if degree == "1":
        return "root"
    if number == "3" or (isinstance(chord, Chord) and "sus" in chord.quality and number in ("9", "11")):
        return "third"
    if number == "5":
        return "fifth"
    if number == "7" or (isinstance(chord, Chord) and degree == "6"):
        return "seventh"
    return "tension" if isinstance(chord, Chord) else "scale"


def _line_dots(line: Line, labels: Labels) -> tuple[Dot, ...]:
    """The places of a line, each once, with the finger or degree of its first note there."""
    found: dict[tuple[int, int], Dot] = {}
    for note in line.notes:
        if note.string is None or note.fret is None:
            raise NeckError(f"{note.pitch} at beat {note.onset_beats} has no place", value=str(note.pitch),
                            expected="a fingered line: call finger(line) first")
        chord = line.chart.chord_at(note.onset_beats)
        label = {"fingers": str(note.finger) if note.finger else "", "names": note.pitch.name.pretty,
                 "degrees": pretty_accidentals(note.degree)}[labels]
        role = role_of(note.degree, chord) if chord is not None and note.degree else "scale"
        found.setdefault((note.string, note.fret), Dot(
            note.string, note.fret, label, role, f"{note.pitch.name.pretty} ({pretty_accidentals(note.degree)})"))
    return tuple(found.values())


def _target_dot(place: Target, tuning: Tuning, chord: Chord, labels: Labels) -> Dot:
    assert chord.root is not None
    name = chord.root.up(Interval.of_degree(place.degree))
    return _dot(place, name, place.degree, _Look(chord, labels, colours=True))


def _bend_arrow(bend: Bend, chord: Chord) -> Arrow:
    degree, size = pretty_accidentals(counted_degree(bend.degree, chord)), _SIZES[bend.semitones]
    at = f"string {bend.string} fret {bend.fret}"
    to_fret = float(bend.fret + bend.semitones)
    if Fraction(bend.semitones).denominator > 1:
        return Arrow(bend.string, bend.fret, to_fret, CURL_LABEL, "bend", f"curl {at} up {size}")
    beside = "".join(f" against string {place.string} fret {place.fret}" for place in bend.held)
    return Arrow(bend.string, bend.fret, to_fret, degree, "bend", f"bend {at} up {size} to {degree}{beside}")


def _hints(dots: Iterable[Dot], following: Chord, tuning: Tuning) -> tuple[Arrow, ...]:
    """From each chord tone along its string to the nearest tone of the next chord, where that is a step away."""
    places = [Target(dot.string, dot.fret, dot.label) for dot in dots if dot.role != "scale"]
    found = []
    for place, (step, degree) in nearest_tones(places, following, tuning).items():
        if 0 < abs(step) <= 2 and place.fret + step >= 1:
            found.append(Arrow(place.string, place.fret, place.fret + step, pretty_accidentals(degree), "hint",
                               f"string {place.string} fret {place.fret} goes to fret {place.fret + step}, "
                               f"{pretty_accidentals(degree)} of {following.pretty}"))
    return tuple(found)


def _shown(marks: Marks, window: Window, *, tight: bool) -> tuple[int, int]:
    """The first and the last fret of the picture; `tight` keeps to what is marked."""
    used = [*(dot.fret for dot in marks.dots), *(ceil(arrow.to_fret) for arrow in marks.arrows)]
    position, last = window.position, window.tuning.last_fret
    if window.frets is not None:
        return window.frets
    if position is not None:
        fingers = covered(position, window.tuning)
        return min([*fingers, *used]), max([*fingers, *used])
    if used and (tight or min(used) > 3):
        return max(0, min(used) - 1), min(last, max(used) + 1)
    return DEFAULT_FRETS[0], min(last, max([DEFAULT_FRETS[1], *used]))


def alt_text(view: NeckView) -> str:
    """The picture in words, string by string from the lowest, as one would say it."""
    parts = []
    for string in range(view.strings, 0, -1):
        notes = sorted((dot.fret, dot.spoken) for dot in view.dots if dot.string == string)
        if notes:
            parts.append(f"string {string}: " + ", ".join(
                f"{'open' if fret == 0 else f'fret {fret}'} {spoken}" for fret, spoken in notes))
    parts += [arrow.spoken for arrow in view.arrows]
    text = f"Guitar neck, {_OVER.sub(_chord_aloud, view.caption)}. " + "; ".join(parts) + "."
    text = text.replace("(♯", "(sharp ").replace("(♭", "(flat ")
    text = text.replace("♯♯", " double sharp").replace("♭♭", " double flat")
    return text.replace("♯", " sharp").replace("♭", " flat")


def _chord_aloud(found: re.Match[str]) -> str:
    """“over F sharp minor seventh” of “over F♯m7”; what is no chord stays as it is."""
    try:
        return f"over {spoken_chord(Chord.parse(found[1]))}"
    except ChordError:
        return found[0]


def neck_text(view: NeckView) -> str:
    """The neck in plain characters, string 1 on top: a cell of four characters for each fret."""
    frets = range(view.first_fret, view.last_fret + 1)
    by_place = {(dot.string, dot.fret): dot.label.replace("♯", "#").replace("♭", "b") for dot in view.dots}
    rows = []
    for string in view.tuning.strings:
        name = str(view.tuning.open_strings[string - 1].name)
        cells = "|".join(f"{by_place.get((string, fret), ''):-^4}" for fret in frets)
        rows.append(f"{name:<3}|{cells}|")
    rows.append("    " + " ".join(f"{fret:^4}" for fret in frets))
    return "\n".join([view.caption, *rows]) if view.caption else "\n".join(rows)
