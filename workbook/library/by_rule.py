"""What a teacher wrote, moved by rule: names by one interval, frets and positions by as many frets as the hand moves.

Charts, chords, scales and pitches in the texts of code are moved, and so are the names in prose; frets in code are
known by the kit's own argument names.
"""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TypeGuard

from theorylib.changes.chart_text import print_tempo
from theorylib.changes.charts import Chart
from theorylib.errors import VampError
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import Interval, NoteName, Pitch
from theorylib.playing.phrase_text import own_tuning

from ..lesson.choices import parsed, settings
from ..lesson.code import quoted, replaced
from ..lesson.names import in_words, renamed, renamed_prose, with_frets_moved

FRET_WORDS = frozenset({"position", "near", "fret", "low_fret"})
_TEMPO = re.compile(r"(♩\s*+=\s*+)(\d{1,4})(?!\d)")


@dataclass(frozen=True, slots=True)
class Move:
    """What happens to every text: an interval up, so many frets, a range of tempos that begins and ends the practice.

    `tempo_now` is the lesson's own, which becomes the end of the range.
    """

    interval: Interval
    frets: int
    tempos: tuple[int, int] | None
    tempo_now: Fraction | None = None
    octaves: int = 0  # by which pitches go up besides, since the hand moved down where the names moved up

    def up(self, name: NoteName | Pitch) -> NoteName | Pitch:
        new = name.up(self.interval)
        return new if isinstance(new, NoteName) else Pitch(new.name, new.octave + self.octaves)

    def chord_up(self, name: NoteName | Pitch) -> NoteName | Pitch:
        """The root or bass of a chord symbol, which no chart writes with a double accidental."""
        new = self.up(name)
        return new.simple() if isinstance(new, NoteName) and abs(new.accidental) > 1 else new

    def tempo(self, tempo: Fraction) -> Fraction:
        """The lesson's own tempo becomes the goal; another one that is named keeps within the range."""
        if self.tempos is None:
            return tempo
        low, goal = map(Fraction, self.tempos)
        return goal if tempo == self.tempo_now else min(max(tempo, low), goal)

    def prose(self, text: str) -> str:
        return in_words(text, self._words)

    def _words(self, text: str) -> str:
        new = text
        if self.interval != Interval(0, 0):
            new = renamed_prose(text, lambda name: self.up(name).pretty, lambda name: str(self.up(name)),
                                lambda name: self.chord_up(name).pretty)
        new = with_frets_moved(new, self.frets)
        return _TEMPO.sub(lambda match: match[1] + print_tempo(self.tempo(Fraction(match[2]))), new)

    def code(self, source: str, leave: Collection[str] = ()) -> str:
        """A code cell with its musical texts and its fret numbers moved, but for what it sets the names `leave` to."""
        tree = parsed(source)
        left = {id(node) for name, node in settings(source, tree) if name in leave}
        phrases = [call for call in ast.walk(tree) if _is_phrase(call)]
        left |= {id(part) for call in phrases for part in ast.walk(_text_of(call))}
        changes: list[tuple[ast.expr, str]] = []
        for node, text in _texts(tree):
            new = text if id(node) in left else self.literal(text)
            if new != text:
                changes.append((node, quoted(new, ast.get_source_segment(source, node) or "")))
        changes += [(node, str(fret + self.frets)) for node, fret in fret_numbers(tree)
                    if self.frets and id(node) not in left]
        changes += [change for call in phrases if (change := self._phrase(source, call)) is not None]
        return replaced(source, changes)

    def _phrase(self, source: str, call: ast.Call) -> tuple[ast.expr, str] | None:
        """A typed phrase keeps its text and is told how far it moves: it is read as typed, and moved by the kit."""
        far = self.interval.semitones + 12 * self.octaves
        told = next((word.value for word in call.keywords if word.arg == "up"), None)
        if told is not None:
            old = ast.get_source_segment(source, told) or "0"
            return (told, str(int(old) + far)) if old.lstrip("-").isdecimal() else (told, f"{old} + {far}")
        if not far:
            return None
        before = (ast.get_source_segment(source, call) or "")[:-1].rstrip()
        line, column = call.end_lineno or call.lineno, (call.end_col_offset or 1) - 1
        end = ast.Constant(0, lineno=line, end_lineno=line, col_offset=column, end_col_offset=column)
        return end, f"{'' if before.endswith(',') else ','} up={far}"

    def literal(self, text: str) -> str:
        """A text of the code: a chart, a chord, a scale or a pitch; anything else stays."""
        if "|" in text:
            try:
                chart = Chart.parse(text)
            except VampError:
                return text
            chart = replace(chart.up(self.interval), tempo=self.tempo(chart.tempo))
            return ("\n" if text.startswith("\n") else "") + str(chart) + ("\n" if text.endswith("\n") else "")
        for read in (Chord.parse, Scale.parse, Pitch.parse):
            try:
                value = read(text.strip())
            except VampError:
                continue
            silent = isinstance(value, Chord) and value.root is None
            return text if silent else renamed(text, lambda name: str(self.up(name)),
                                               lambda name: str(self.chord_up(name)))
        return text


def _texts(tree: ast.AST) -> Iterator[tuple[ast.expr, str]]:
    """The texts in code. An f-string with braces is none: what stands in them decides what its pieces say."""
    pieces: set[int] = set()
    for node in ast.walk(tree):  # from the outside in: an f-string comes before its pieces
        if isinstance(node, ast.FormattedValue):
            pieces.add(id(node.format_spec))
        elif isinstance(node, ast.JoinedStr):
            pieces |= {id(piece) for piece in node.values if isinstance(piece, ast.Constant)}
        if id(node) in pieces:
            continue
        if isinstance(node, ast.JoinedStr):
            words = [str(piece.value) for piece in node.values if isinstance(piece, ast.Constant)]
            if len(words) == len(node.values):
                yield node, "".join(words)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node, node.value


def _is_phrase(node: ast.AST) -> TypeGuard[ast.Call]:
    return (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "phrase"
            and bool(node.args or node.keywords))


def _text_of(call: ast.Call) -> ast.expr:
    """The text of a phrase: its first argument, or the one of that name."""
    return next((word.value for word in call.keywords if word.arg == "text"), (call.args or [call.func])[0])


def stays_behind(source: str, keys: bool, necks: bool) -> tuple[str, str]:
    """The first phrase that a move of key or neck would not take along, and what it lacks; else two "".

    A file cannot be moved by rule: a phrase from one has to be told the key and the tuning that it is to stand in. A
    typed phrase has to say the tuning that it is typed in, for another neck would read its places otherwise.
    """
    for node in ast.walk(parsed(source)):
        if _is_phrase(node) and necks:
            text = _text_of(node)
            said = isinstance(text, ast.Constant) and own_tuning(str(text.value)) is not None
            if not said or all(word.arg != "tuning" for word in node.keywords):
                return ast.get_source_segment(source, node) or "phrase", "tuning: in its heading, and tuning"
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "phrase_from":
            given = {word.arg for word in node.keywords}
            for word, moves in (("key", keys), ("tuning", necks)):
                if moves and word not in given:
                    return ast.get_source_segment(source, node) or node.func.id, word
    return "", ""


def fret_numbers(tree: ast.AST) -> Iterator[tuple[ast.Constant, int]]:
    """The whole numbers in code that are frets: a parameter set by name, or an argument of a function of the kit."""
    for node in ast.walk(tree):
        given: list[tuple[str, ast.expr]] = []
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            given = [(node.targets[0].id, node.value)]
        elif isinstance(node, ast.Call):
            given = [(word.arg or "", word.value) for word in node.keywords]
            names = _argument_names(node.func)
            given += list(zip(names, node.args, strict=False))
        for name, value in given:
            if name in FRET_WORDS and isinstance(value, ast.Constant) and type(value.value) is int:
                yield value, value.value


def _argument_names(function: ast.expr) -> list[str]:
    from .. import kit

    called = getattr(kit, function.id, None) if isinstance(function, ast.Name) else None
    if called is None or not callable(called):
        return []
    return [one.name for one in inspect.signature(called).parameters.values() if one.kind is one.POSITIONAL_OR_KEYWORD]
