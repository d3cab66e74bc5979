"""Chord symbols as pieces of text: root, raised suffix and bass, with a boxed section label before them."""

from __future__ import annotations

from theorylib.names.chords import Chord

from ..fonts import text_width

CHORD = 400.0             # type size of a chord symbol over the staff, ten to a unit of the picture
LABEL = 0.75              # size of a section label as a share of it
BOX, AFTER = 130.0, 90.0  # room inside a label's box and behind it


def split_label(words: str) -> tuple[str, str]:
    """("A", "Am7") of "[A] Am7"; no label gives ""."""
    if words.startswith("["):
        label, _, symbol = words[1:].rpartition("] ")
        return label, symbol
    return "", words


def symbol_pieces(symbol: str) -> list[tuple[str, float, float]]:
    """(text, size, rise) of a chord symbol's pieces, as shares of its type size."""
    chord = Chord.parse(symbol)
    if chord.root is None:
        return [("N.C.", 0.85, 0.0)]
    pieces = [(chord.root.pretty, 1.0, 0.0), (chord.pretty_suffix, 0.74, 0.2)]
    if chord.bass is not None:
        pieces.append((f"/{chord.bass.pretty}", 0.88, 0.0))
    return [piece for piece in pieces if piece[0]]


def label_width(label: str) -> float:
    return text_width(label, CHORD * LABEL, bold=True) + BOX


def symbol_width(words: str) -> float:
    """Width of "[label] symbol" in tenths of a unit."""
    label, symbol = split_label(words)
    return (label_width(label) + AFTER if label else 0.0) + sum(
        text_width(text, size * CHORD, bold=True) for text, size, _ in symbol_pieces(symbol))
