"""Marks of technique: one row for each says what it measures, how it joins, which hand makes it and how it is typed.

Everything that reads, draws, plays, writes or fingers a mark derives from this table. Three rooms have a table of their
own, keyed by the same names: `draw/mei_marks.py`, `play/performance.py` and `exchange/musicxml_marks.py`; an index of
lessons names them by `lesson/facts.py`. The signs are common practice of typed TAB, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from ..limits import BEND, GRACE, VELOCITY, VIBRATO, within

# What a joining mark asks of the two frets, and of the fingers on them, in words.
RISES, FALLS, SHIFTS, STAYS = "rises", "falls", "shifts", "stays"
JOIN_NEEDS = {
    RISES: "a higher finger of the same hand position, on the same string",
    FALLS: "a lower finger of the same hand position or the open string, on the same string",
    SHIFTS: "the same finger at another fret of the same string",
    STAYS: "the same pitch, held at its place",
}
# Where a mark stands in typed TAB: before the fret (and so after the one it comes from), after it, around it, in its
# place, in a row of words over the strings, or among the signs of the row under them.
BEFORE, AFTER, AROUND, INSTEAD, OVER, UNDER = "before", "after", "around", "instead", "over", "under"
FRETTING, PICKING = "fretting hand", "picking hand"


@dataclass(frozen=True, slots=True)
class Technique:
    """A kind of mark. `sign` is what a line of words calls it, `tab` what typed TAB does, the usual form first.

    `joins` is a key of JOIN_NEEDS where it leads from the note before on its string. `fretted`: needs a finger behind
    a fret, never an open string. `hand` is the one that sounds the note. `picked`: struck by the pick or a finger.
    `moves` is 1 where it lifts the pitch, -1 where it lets it fall. `usual` is the size that a bare sign means.
    """

    sign: str
    where: str
    tab: tuple[str, ...]
    unit: str = ""
    limits: tuple[Fraction | int, Fraction | int] | None = None
    joins: str = ""
    fretted: bool = False
    hand: str = FRETTING
    picked: bool = True
    moves: int = 0
    usual: Fraction | None = None


# A bend and a release begin at the mark's `at_beats`; a release says how far it falls. A pre-bend is up before the note
# is struck. Vibrato swings from the note's pitch up to its width and back; typed TAB does not say how wide, so that a
# bare sign means 50 cents (common practice, no source). A grace note stands so many semitones above (or below) its note
# on the same string and leads into it. A “slide” is struck again where it arrives, a “legato slide” is not.
MARKS: dict[str, Technique] = {
    "hammer": Technique("h", BEFORE, ("h", "H"), joins=RISES, fretted=True, picked=False),
    "hammer from nowhere": Technique("hn", UNDER, ("hn",), fretted=True, picked=False),
    "pull": Technique("p", BEFORE, ("p", "P"), joins=FALLS, picked=False),
    "slide": Technique("sl", BEFORE, ("/", "\\", "S"), joins=SHIFTS, fretted=True),
    "legato slide": Technique("ls", BEFORE, ("s",), joins=SHIFTS, fretted=True, picked=False),
    "tap": Technique("t", BEFORE, ("t", "T"), hand=PICKING, picked=False),
    "dead": Technique("x", INSTEAD, ("x", "X", "×")),
    "palm mute": Technique("pm", OVER, ("PM", "P.M.")),
    "let ring": Technique("lr", OVER, ("let ring", "LR", "L.R.")),
    "harmonic": Technique("nh", AROUND, ("<>", "‹›")),
    "tapped harmonic": Technique("th", UNDER, ("th",), fretted=True),
    "accent": Technique(">", UNDER, (">",)),
    "staccato": Technique(".", UNDER, (".",)),
    "ghost": Technique("()", AROUND, ("()",)),
    "tie": Technique("=", BEFORE, ("=",), joins=STAYS, picked=False),
    "pick down": Technique("d", UNDER, ("d", "D")),
    "pick up": Technique("u", UNDER, ("u", "U")),
    "grace": Technique("g", UNDER, ("g",), "semitones", GRACE),
    "bend": Technique("b", AFTER, ("b", "B"), "semitones", BEND, fretted=True, moves=1),
    "pre-bend": Technique("pb", AFTER, ("pb",), "semitones", BEND, fretted=True, moves=1),
    "release": Technique("r", AFTER, ("r", "R"), "semitones", BEND, fretted=True, moves=-1),
    "vibrato": Technique("~", AFTER, ("~", "v"), "cents", VIBRATO, fretted=True, usual=Fraction(50)),
    "dynamic": Technique("v", UNDER, ("v",), "MIDI velocity", VELOCITY),
}
JOINING = frozenset(kind for kind, row in MARKS.items() if row.joins)
FRETTED = frozenset(kind for kind, row in MARKS.items() if row.fretted)
TAPPED = frozenset(kind for kind, row in MARKS.items() if row.hand == PICKING)
UNPICKED = frozenset(kind for kind, row in MARKS.items() if not row.picked)
LIFTING = frozenset(kind for kind, row in MARKS.items() if row.moves > 0)
MOVING = frozenset(kind for kind, row in MARKS.items() if row.moves)


def check_size(kind: str, value: Fraction) -> None:
    """Raise NumberError where a mark's value lies outside what its kind may hold."""
    row = MARKS[kind]
    if row.limits is not None:
        within(value, row.limits, f"{kind} in {row.unit}")
