"""The rooms of the project: who may import whom, no cycles, no long files, and the names that stay."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
# The order of the rooms of theorylib (design.md); a module imports only modules named before it. Names on one line know
# nothing of each other.
ORDER = (
    "errors", "limits plain_json", "line_text", "spelling", "qualities",
    "chords scales", "meters", "bars", "chart_text", "charts", "form", "kinds",
    "homes", "functions", "keys numerals chordscales", "roles", "scalechoice", "harmony", "hearing", "naming",
    "arpeggios", "sources", "substitutes", "uses", "neck", "shapes", "voicings areas",
    "lines", "notation", "hand", "fingering", "difficulty joins", "drills", "through sequences tapping phrases",
    "subdivisions touch", "outline", "claims",
)
PRODUCTS = ("workbook.widgets", "workbook.handouts", "workbook.packs")
BARRED = {  # importer: what it must not import
    "workbook.draw": (*PRODUCTS, "workbook.cli"),
    "workbook.play": (*PRODUCTS, "workbook.cli"),
    "workbook.listen": (*PRODUCTS, "workbook.cli"),
    "workbook": ("workbook.cli",),
}
LONGEST_FILE = 400
HEAVY = {"matplotlib", "music21", "verovio", "typst"}  # imported inside the function that needs them


def modules(root: Path, package: str) -> dict[str, Path]:
    """Dotted name of each module of `package` under `root`: its file."""
    found = {}
    for path in sorted((root / package).rglob("*.py")):
        parts = path.relative_to(root).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def imports_of(name: str, path: Path, known: set[str], *, top_only: bool = False) -> set[str]:
    """Every module that a file imports, in functions too (unless `top_only`), relative imports resolved."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found: set[str] = set()
    package = name.split(".") if path.name == "__init__.py" else name.split(".")[:-1]
    nodes = tree.body if top_only else ast.walk(tree)
    for node in nodes:
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = package[:len(package) - node.level + 1] if node.level else []
            module = ".".join([*base, *([node.module] if node.module else [])])
            found |= {f"{module}.{alias.name}" if f"{module}.{alias.name}" in known else module for alias in node.names}
    return found


def problems(root: Path) -> list[str]:
    """Everything in the tree under `root` that breaks an import rule or the length of a file."""
    found = []
    places = {word: number for number, line in enumerate(ORDER) for word in line.split()}
    known = modules(root, "theorylib") | modules(root, "workbook")
    graph = {name: imports_of(name, path, set(known)) for name, path in known.items()}
    for name, path in known.items():
        lines = len(path.read_text(encoding="utf-8").splitlines())
        if lines > LONGEST_FILE:
            found.append(f"{name} has {lines} lines")
        top = imports_of(name, path, set(known), top_only=True)
        found += [f"{name} imports {one} when it is imported" for one in sorted(top) if one.split(".")[0] in HEAVY]
        for one in sorted(graph[name]):
            if name.split(".")[0] == "theorylib":
                found += _theory_problems(name, one, places)
            for room, barred in BARRED.items():
                if _inside(name, room) and any(_inside(one, other) and not _inside(name, other) for other in barred):
                    found.append(f"{name} imports {one}")
    return found + [f"cycle: {' → '.join(loop)}" for loop in _cycles(graph)]


def _theory_problems(name: str, imported: str, places: dict[str, int]) -> list[str]:
    top = imported.split(".")[0]
    if top != "theorylib":
        return [] if top in sys.stdlib_module_names else [f"{name} imports {imported}, not of the standard library"]
    here, there = name.removeprefix("theorylib").strip("."), imported.removeprefix("theorylib").strip(".")
    if not here:  # the package itself opens every room
        return []
    if here not in places:
        return [f"{name} has no place in ORDER"]
    return [] if there in places and places[there] < places[here] else [f"{name} imports {imported}, which comes later"]


def _inside(name: str, room: str) -> bool:
    return name == room or name.startswith(room + ".")


def _cycles(graph: dict[str, set[str]]) -> list[list[str]]:
    """One loop for each module that can reach itself through others (a package's own __init__ left out)."""
    found = []
    for start in graph:
        if start in ("theorylib", "workbook"):
            continue
        paths, seen = [[start]], {start}
        while paths:
            path = paths.pop()
            for one in sorted(graph.get(path[-1], ())):
                if one == start and len(path) > 1:
                    found.append([*path, one])
                elif one not in seen and one not in ("theorylib", "workbook"):
                    seen.add(one)
                    paths.append([*path, one])
    return found


def test_the_tree_keeps_its_rules():
    assert problems(ROOT) == []


def test_the_check_looks_at_every_module():
    names = {word for line in ORDER for word in line.split()}
    present = {name.split(".")[1] for name in modules(ROOT, "theorylib") if "." in name}
    assert present <= names
    assert len(present) >= 15
    assert "theorylib.spelling" in imports_of("theorylib.chords", ROOT / "theorylib/chords.py",
                                              {"theorylib.spelling", "theorylib.chords"})


@pytest.mark.parametrize(("files", "expected"), [
    ({"theorylib/spelling.py": "from .charts import Chart", "theorylib/charts.py": ""}, "which comes later"),
    ({"theorylib/chords.py": "from . import scales", "theorylib/scales.py": ""}, "which comes later"),
    ({"theorylib/neck.py": "import numpy"}, "not of the standard library"),
    ({"theorylib/neck.py": "def f():\n    from numpy import array"}, "not of the standard library"),
    ({"theorylib/lines.py": "from workbook import draw", "workbook/draw.py": ""}, "not of the standard library"),
    ({"theorylib/mystery.py": "from .errors import VampError", "theorylib/errors.py": ""}, "no place in ORDER"),
    ({"workbook/draw/neck.py": "from ..packs import build", "workbook/packs/build.py": ""},
     "imports workbook.packs.build"),
    ({"workbook/play/midi.py": "import workbook.widgets.neck", "workbook/widgets/neck.py": ""},
     "imports workbook.widgets"),
    ({"workbook/listen/beats.py": "from workbook.handouts.page import x", "workbook/handouts/page.py": ""},
     "imports workbook.handouts"),
    ({"workbook/care.py": "from .cli import main", "workbook/cli.py": ""}, "imports workbook.cli"),
    ({"workbook/a.py": "from . import b", "workbook/b.py": "def f():\n    from .a import x"}, "cycle: "),
    ({"workbook/draw/score.py": "import verovio"}, "when it is imported"),
    ({"workbook/long.py": "\n" * (LONGEST_FILE + 1)}, "401 lines"),
])
def test_the_check_finds_what_is_planted(tmp_path, files, expected):
    planted = {"theorylib/__init__.py": "", "workbook/__init__.py": "", **files}
    for name, text in planted.items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    found = problems(tmp_path)
    assert any(expected in problem for problem in found), found


def test_the_check_is_content_with_what_is_allowed(tmp_path):
    for name, text in {"theorylib/__init__.py": "from .chords import x", "theorylib/errors.py": "import re",
                       "theorylib/chords.py": "from .errors import x", "workbook/__init__.py": "",
                       "workbook/cli.py": "from .packs import build\nfrom .draw import neck",
                       "workbook/packs/build.py": "from ..draw import neck\nfrom theorylib.chords import x",
                       "workbook/draw/neck.py": "def f():\n    import matplotlib"}.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert problems(tmp_path) == []


# The calls of design.md, "Names that stay", that the tree already has; more join as their capability is built.
NAMES_THAT_STAY = ("Chord", "Scale", "Chart", "harmony", "Tuning", "STANDARD", "continuous_arpeggio", "Line", "finger")


def test_the_names_that_stay_are_importable():
    import theorylib

    for name in NAMES_THAT_STAY:
        assert name in theorylib.__all__
        assert getattr(theorylib, name) is not None
    assert sorted(set(theorylib.__all__)) == sorted(theorylib.__all__)
    assert all(hasattr(theorylib, name) for name in theorylib.__all__)


def test_the_names_that_stay_keep_their_fields():
    from theorylib import STANDARD, Chart, Chord, Scale, Tuning

    chord, scale, chart = Chord.parse("Am7/G"), Scale.parse("A dorian"), Chart.parse("[A] | Am7 | D7 |")
    assert (chord.root, chord.bass, str(chord)) == ("A", "G", "Am7/G")
    assert (chord.tones[1].name, chord.tones[1].degree) == ("C", "b3")
    assert (scale.names[0], str(scale.parent), scale.parent_degree, str(scale)) == ("A", "G major", 2, "A dorian")
    event = chart.events[1]
    assert (str(event.chord), event.onset_beats, event.duration_beats) == ("D7", 4, 4)
    assert (chart.sections[0].name, str(chart.meter), chart.tempo) == ("A", "4/4", 100)
    assert str(chart.transpose(2).events[0].chord) == "Bm7"
    assert Tuning.parse("E2 A2 D3 G3 B3 E4") == STANDARD
    assert str(STANDARD.pitch(6, 5)) == "A2"
    assert [(place.string, place.fret) for place in STANDARD.places("E4")][:2] == [(1, 0), (2, 5)]


def test_every_module_says_what_it_is_for():
    for name, path in (modules(ROOT, "theorylib") | modules(ROOT, "workbook")).items():
        text = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
        assert text or not path.read_text(encoding="utf-8").strip(), f"{name} has no docstring"
