"""A lesson moved to another key or another neck: its cells rewritten, still to be run and checked.

Charts, chords, scales and pitches in the code's texts are moved by one interval, and so are the names in the prose;
frets and positions, in code (by the kit's own argument names) and in prose, move by as many frets as the hand must.
Parameters go into a cell of their own, tagged as papermill tags it.
"""

from __future__ import annotations

import ast
import copy
import inspect
import re
import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from statistics import mode
from typing import Any

from theorylib.changes.charts import Chart
from theorylib.errors import VampError
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import Interval, NoteName, Pitch
from theorylib.necks.tunings import STANDARD, Tuning

from ..lesson.cells import block, code_cell, literal
from ..lesson.door import LessonError
from ..lesson.names import frets_in, renamed, renamed_prose, string_frets_in, with_frets_moved
from ..lesson.stored import charts_in, tempo_of

PARAMETERS, INJECTED = "parameters", "injected-parameters"  # the tags of Jupyter's papermill
FRET_WORDS = frozenset({"position", "near", "fret", "low_fret"})
LOWEST, HIGHEST = 1, 17  # frets between which a lesson's positions may come to lie
OCTAVE = 12              # a hand that would stand above it goes down instead
_TEMPO = re.compile(r"(♩\s*+=\s*+)(\d{1,4})(?!\d)")
_CLOSING = re.compile(r"(?<!\s)(\s++#++)?\s*+$")  # signs that may close a heading
_NEAR = (0, 1, -1, 2, -2)


@dataclass(frozen=True, slots=True)
class Target:
    """Where a lesson goes: a key or a tonic ("A dorian", "Ab"), a tuning, a range of tempos; empty leaves it as it is.

    The changes are taken at the tempo of the range that is nearest to their own.
    """

    key: str = ""
    tuning: str = ""
    tempos: tuple[int, int] | None = None

    def __bool__(self) -> bool:
        return bool(self.key or self.tuning or self.tempos)


def interval_to(notebook: Mapping[str, Any], key: str) -> Interval:
    """How far a lesson's music moves to get to a key; raises LessonError for a key of another kind."""
    about = notebook.get("metadata", {}).get("vampbook", {})
    charts = charts_in(notebook)
    if not about.get("key") or not charts:
        raise LessonError("the lesson names no key and shows no chart, so that it cannot be moved", value=key)
    own, home = Scale.parse(about["key"]), Scale.parse(about.get("home") or about["key"])
    wanted, kinds = key.strip(), {own.kind: own, home.kind: home}
    try:
        tonic, start = NoteName(wanted), home
    except VampError:
        scale = Scale.parse(wanted)
        if scale.kind not in kinds:
            said = home.pretty if home == own else f"{home.pretty} ({own.pretty})"
            raise LessonError(f"the lesson is in {said} and cannot be moved to {scale.pretty}",
                              value=key, expected=f"a tonic such as {scale.tonic}, or its {home.kind} scale") from None
        tonic, start = scale.tonic, kinds[scale.kind]
    semitones = (tonic.pitch_class - start.tonic.pitch_class) % 12
    fifths = tonic.fifths - start.tonic.fifths
    if abs(own.parent.tonic.fifths + fifths) <= 7:  # the spelling asked for, where it is a key that people write
        return Interval.of_fifths(fifths)
    return charts[0].interval_to(semitones)


def all_keys(notebook: Mapping[str, Any]) -> list[str]:
    """The twelve tonics of a lesson's home scale, upward from its own."""
    about = notebook.get("metadata", {}).get("vampbook", {})
    home = Scale.parse(about.get("home") or about.get("key") or "C major").tonic
    chart = next(iter(charts_in(notebook)), None)
    if chart is None:
        raise LessonError("the lesson shows no chart, so that it cannot be moved")
    return [str(home.up(chart.interval_to(semitones)).simple()) for semitones in range(12)]


def hand_shifts(notebook: Mapping[str, Any], target: Target) -> list[int]:
    """By how many frets the hand may move to play the same shapes, the nearest first; never empty.

    Raises LessonError where the lesson's frets leave no room.
    """
    if not target.key and not target.tuning:
        return [0]
    semitones = interval_to(notebook, target.key).semitones if target.key else 0
    base = (semitones - _strings_moved(notebook, target)) % 12
    frets = [fret for fret in _frets_of(notebook) if fret > 0]
    low, high = min(frets, default=5), max(frets, default=5)
    prose = "\n".join("".join(cell["source"]) for cell in notebook["cells"] if cell["cell_type"] == "markdown")
    ways = _NEAR[:1] if string_frets_in(prose) else _NEAR  # a place that the prose names must stay in its shape
    octaves = sorted((base - 12, base, base + 12), key=lambda shift: (low + shift > OCTAVE, abs(shift)))
    found = [octave + near for near in ways for octave in octaves
             if low + octave + near >= LOWEST and high + octave + near <= HIGHEST]
    if not found:
        raise LessonError(f"frets {low} to {high} cannot move by {base} or {base - 12}", value=str(target),
                          expected=f"positions from {LOWEST} to {HIGHEST}")
    return found


def moved(notebook: Mapping[str, Any], target: Target, frets: int) -> dict[str, Any]:
    """The notebook rewritten for a target, the hand moved by so many frets; raises LessonError where it has no room for
    a parameter or its prose names places that the new neck does not have."""
    new = copy.deepcopy(dict(notebook))
    interval = interval_to(notebook, target.key) if target.key else Interval(0, 0)
    octaves = round((frets + _strings_moved(new, target) - interval.semitones) / 12)
    move = _Move(interval, frets, target.tempos, octaves)
    if target.tuning:
        _same_places(notebook, target)
    about = new["metadata"].get("vampbook", {})
    for word in ("key", "home"):
        if about.get(word):
            about[word] = str(Scale.parse(about[word]).up(interval))
    about["aims"] = [move.prose(aim) for aim in about.get("aims", ())]
    if about.get("tempo"):
        about["tempo"] = str(move.tempo(tempo_of(new) or Fraction(0)))
    for cell in new["cells"]:
        source = "".join(cell["source"])
        if cell["cell_type"] == "markdown":
            cell["source"] = move.prose(source)
        elif cell["cell_type"] == "code":
            cell["source"] = move.code(source)
    if target.key and (about.get("home") or about.get("key")):
        _say_the_key(new, about)
    if target.tuning:
        inject(new, {"tuning": str(Tuning.parse(target.tuning))})
    return new


def inject(notebook: dict[str, Any], values: Mapping[str, Any], *more: str) -> None:
    """Put a papermill-style cell with these values, and `more` lines of code, after the cell tagged `parameters`.

    Raises LessonError where a value is no parameter of the lesson.
    """
    known = parameters_of(notebook)
    for name in values:
        if name not in known:
            raise LessonError(f"the lesson has no parameter “{name}”", value=name,
                              expected=f"a cell tagged “{PARAMETERS}” that sets it")
    at = next((number for number, cell in enumerate(notebook["cells"])
               if PARAMETERS in cell.get("metadata", {}).get("tags", ())), None)
    if at is None:
        imports = (number for number, cell in enumerate(notebook["cells"]) if "import *" in "".join(cell["source"]))
        at = next(imports, -1)
    lines = ["# Parameters", *(f"{name} = {value!r}" for name, value in values.items()), *more]
    notebook["cells"].insert(at + 1, code_cell("injected", "\n".join(lines), INJECTED))


def parameters_of(notebook: Mapping[str, Any]) -> dict[str, Any]:
    """What the cell tagged `parameters` sets: name and value, where it is a plain one."""
    found: dict[str, Any] = {}
    for cell in notebook["cells"]:
        if PARAMETERS in cell.get("metadata", {}).get("tags", ()):
            for node in _parsed("".join(cell["source"])).body:
                if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
                    try:
                        found[node.targets[0].id] = ast.literal_eval(node.value)
                    except ValueError:
                        found[node.targets[0].id] = None
    return found


# -- texts -----------------------------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class _Move:
    """What happens to every text: an interval up, so many frets, a range of tempos."""

    interval: Interval
    frets: int
    tempos: tuple[int, int] | None
    octaves: int = 0  # by which pitches go up besides, since the hand moved down where the names moved up

    def up(self, name: NoteName | Pitch) -> NoteName | Pitch:
        new = name.up(self.interval)
        return new if isinstance(new, NoteName) else Pitch(new.name, new.octave + self.octaves)

    def tempo(self, tempo: Fraction) -> Fraction:
        return tempo if self.tempos is None else min(max(tempo, Fraction(self.tempos[0])), Fraction(self.tempos[1]))

    def prose(self, text: str) -> str:
        new = text
        if self.interval != Interval(0, 0):
            new = renamed_prose(text, lambda name: self.up(name).pretty, lambda name: str(self.up(name)))
        new = with_frets_moved(new, self.frets)
        return _TEMPO.sub(lambda match: match[1] + str(self.tempo(Fraction(match[2]))), new)

    def code(self, source: str) -> str:
        """A code cell with its musical texts and its fret numbers moved."""
        tree = _parsed(source)
        changes: list[tuple[ast.expr, str]] = []
        for node, text in _texts(tree):
            new = self.literal(text)
            if new != text:
                changes.append((node, _quoted(new, ast.get_source_segment(source, node) or "")))
        changes += [(node, str(fret + self.frets)) for node, fret in _fret_numbers(tree) if self.frets]
        return _replaced(source, changes)

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
            return text if silent else renamed(text, lambda name: str(self.up(name)))
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


def _fret_numbers(tree: ast.AST) -> Iterator[tuple[ast.Constant, int]]:
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


def _quoted(new: str, old: str) -> str:
    """The text as a literal, in as many lines as it had and in the quotes that it had where they serve."""
    if old.endswith(('"""', "'''")):
        return block(new)
    return literal(new) if old.endswith('"') else repr(new)


def _replaced(source: str, changes: list[tuple[ast.expr, str]]) -> str:
    """The source with nodes replaced by texts, the rest as it was typed."""
    if not changes:
        return source
    lines = source.encode().split(b"\n")  # ast counts columns in bytes
    starts = [0]
    for line in lines:
        starts.append(starts[-1] + len(line) + 1)
    data = source.encode()
    for node, text in sorted(changes, key=lambda one: (one[0].lineno, one[0].col_offset), reverse=True):
        start = starts[node.lineno - 1] + node.col_offset
        end = starts[(node.end_lineno or node.lineno) - 1] + (node.end_col_offset or 0)
        data = data[:start] + text.encode() + data[end:]
    return data.decode()


def _parsed(source: str) -> ast.Module:
    """The code's tree; an empty one where it cannot be read: a magic, or a fault that the run will name."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what Python thinks of the teacher's code is for the run to say
            return ast.parse(source)
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        return ast.Module([], [])


# -- names and places ------------------------------------------------------------------------------------------------
def _say_the_key(notebook: dict[str, Any], about: dict[str, Any]) -> None:
    """The title says where the lesson stands now."""
    key = Scale.parse(about.get("home") or about["key"]).pretty
    about["title"] = f"{about.get('title') or 'Lesson'} in {key}"
    for cell in notebook["cells"]:
        if cell["cell_type"] == "markdown" and cell["source"].startswith("# "):
            head, _, rest = cell["source"].partition("\n")
            cell["source"] = _CLOSING.sub(f" in {key}", head, count=1) + (f"\n{rest}" if rest else "")
            return


def _tuning_of(notebook: Mapping[str, Any]) -> Tuning:
    text = parameters_of(notebook).get("tuning")
    return Tuning.parse(str(text)) if text else STANDARD


def _strings_moved(notebook: Mapping[str, Any], target: Target) -> int:
    """By how many half steps most strings of the new neck sound higher than on the lesson's own."""
    if not target.tuning:
        return 0
    return mode(_differences(_tuning_of(notebook), Tuning.parse(target.tuning)))


def _differences(old: Tuning, new: Tuning) -> list[int]:
    return [new.midi(string, 0) - old.midi(string, 0) for string in old.strings if string in new.strings]


def _same_places(notebook: Mapping[str, Any], target: Target) -> None:
    """Refuse a neck on which a place that the prose names is another note than the rest of the move makes it."""
    old, new = _tuning_of(notebook), Tuning.parse(target.tuning)
    usual = _strings_moved(notebook, target)
    for number, cell in enumerate(notebook["cells"], 1):
        if cell["cell_type"] != "markdown":
            continue
        for string, fret in string_frets_in("".join(cell["source"])):
            if string not in new.strings or new.midi(string, 0) - old.midi(string, 0) != usual:
                raise LessonError(f"the prose names string {string} fret {fret}, which is another note in this tuning",
                                  value=target.tuning, where=f"cell {number}",
                                  expected="a tuning that leaves that string as it is, or prose without that place")


def _frets_of(notebook: Mapping[str, Any]) -> list[int]:
    found: list[int] = []
    for cell in notebook["cells"]:
        source = "".join(cell["source"])
        if cell["cell_type"] == "markdown":
            found += frets_in(source)
        elif cell["cell_type"] == "code":
            found += [fret for _, fret in _fret_numbers(_parsed(source))]
    return found
