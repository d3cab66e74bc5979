"""Chord symbols as pieces of text: root, raised suffix and bass; and the width of a boxed section label."""

from __future__ import annotations

from theorylib.names.chords import Chord

from ..fonts import text_width

CHORD = 440.0             # type size of a chord symbol over the staff, ten to a unit of the picture
LABEL = 0.7              # size of a section label as a share of it
BOX, AFTER = 130.0, 90.0  # room inside a label's box and behind it


def symbol_pieces(symbol: str) -> list[tuple[str, float, float]]:
    """(text, size, rise) of a chord symbol's pieces, as shares of its type size."""
    chord = Chord.parse(symbol)
    if chord.root is None:
        return [("N.C.", 0.85, 0.0)]
    minor, raised = split_suffix(chord.pretty_suffix)
    pieces = [(chord.root.pretty, 1.0, 0.0), (minor, 0.8, 0.0), (raised, 0.74, 0.2)]
    if chord.bass is not None:
        pieces.append((f"/{chord.bass.pretty}", 0.88, 0.0))
    return [piece for piece in pieces if piece[0]]


def split_suffix(suffix: str) -> tuple[str, str]:
    """("m", "7♭5") of "m7♭5": the m of a minor chord stands on the line, what is added to the triad is raised."""
    is_minor = suffix.startswith("m") and not suffix.startswith("maj")
    return ("m", suffix[1:]) if is_minor else ("", suffix)


def label_width(label: str) -> float:
    return text_width(label, CHORD * LABEL, bold=True) + BOX


def symbol_width(symbol: str) -> float:
    """Width of a chord symbol in tenths of a unit."""
    return sum(text_width(text, size * CHORD, bold=True) for text, size, _ in symbol_pieces(symbol))
