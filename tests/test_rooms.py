"""The law of the rooms: who may import whom, as the table in DEVELOPERS.md says; no cycles, no long files."""

from __future__ import annotations

import ast
import re
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
GUIDE = ROOT / "DEVELOPERS.md"
PACKAGES = ("theorylib", "workbook")
LONGEST_FILE = 400
HEAVY = {"matplotlib", "music21", "verovio", "typst"}  # imported inside the function that needs them
NOTHING = "–"


@dataclass(frozen=True)
class Law:
    """Rooms (dotted names) with what each may import besides itself, and the steps of the wings of theorylib."""

    allowed: dict[str, set[str]]
    steps: dict[str, int]  # module within a wing: its step; a module imports only from lower ones


def read_law(guide: str) -> Law:
    rows = re.findall(r"^\| (`.+`) \| .* \| (.+) \|$", guide, re.MULTILINE)
    rooms = [(room, words) for names, words in rows for room in map(_dotted, re.findall(r"`([^`]+)`", names))]
    short = {room.rpartition(".")[2]: room for room, _ in rooms if "." in room}
    allowed = {room: {short.get(word.strip(), word.strip()) for word in words.split(",")} - {NOTHING}
               for room, words in rooms}
    steps = {f"theorylib.{wing}.{module.strip()}": number
             for wing, line in re.findall(r"^    (\w+): (.+)$", guide, re.MULTILINE)
             for number, step in enumerate(line.split("→")) for module in step.split(",")}
    return Law(allowed, steps)


def _dotted(path: str) -> str:
    return path.removesuffix("/__init__.py").removesuffix(".py").rstrip("/").replace("/", ".")


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


def problems(root: Path, law: Law) -> list[str]:
    """Everything in the tree under `root` that breaks the law, or the length of a file."""
    found = []
    known = {name: path for package in PACKAGES for name, path in modules(root, package).items()}
    graph = {name: imports_of(name, path, set(known)) for name, path in known.items()}
    for name, path in known.items():
        lines = len(path.read_text(encoding="utf-8").splitlines())
        if lines > LONGEST_FILE:
            found.append(f"{name} has {lines} lines")
        top = imports_of(name, path, set(known), top_only=True)
        found += [f"{name} imports {one} when it is imported" for one in sorted(top) if one.split(".")[0] in HEAVY]
        room = _room(name, law)
        if room is None:
            found.append(f"{name} stands in no row of the table")
            continue
        if name.startswith("theorylib.") and name.count(".") == 2 and name not in law.steps:
            found.append(f"{name} stands on no step of its wing")
        found += [f"{name} imports {one}" for one in sorted(graph[name]) if not _may(name, room, one, law)]
    return found + [f"cycle: {' → '.join(loop)}" for loop in _cycles(graph)]


def _room(name: str, law: Law) -> str | None:
    return next((room for room in sorted(law.allowed, key=len, reverse=True)
                 if name == room or (name.startswith(room + ".") and room not in PACKAGES)), None)


def _may(name: str, room: str, imported: str, law: Law) -> bool:
    top = imported.split(".")[0]
    if top in PACKAGES:
        there = _room(imported, law)
        if there == room:
            return _stepwise(name, imported, law)
        return there in law.allowed[room] or (top in law.allowed[room] and top == "theorylib")
    return top in sys.stdlib_module_names or top in law.allowed[room]


def _stepwise(name: str, imported: str, law: Law) -> bool:
    """Within a wing only from lower steps; other rooms order themselves (cycles are forbidden in any case)."""
    if name not in law.steps or imported not in law.steps:
        return True
    return law.steps[imported] < law.steps[name]


def _cycles(graph: dict[str, set[str]]) -> list[list[str]]:
    """One loop for each module that can reach itself through others (a package's own __init__ left out)."""
    found = []
    for start in graph:
        if start in PACKAGES:
            continue
        paths, seen = [[start]], {start}
        while paths:
            path = paths.pop()
            for one in sorted(graph.get(path[-1], ())):
                if one == start and len(path) > 1:
                    found.append([*path, one])
                elif one not in seen and one not in PACKAGES:
                    seen.add(one)
                    paths.append([*path, one])
    return found


LAW = read_law(GUIDE.read_text(encoding="utf-8"))


def test_the_tree_keeps_the_law() -> None:
    assert problems(ROOT, LAW) == []


def test_the_law_is_read_from_the_guide() -> None:
    """Some of its rows as they are meant, typed here."""
    assert LAW.allowed["theorylib.names"] == {"theorylib.errors"}
    assert LAW.allowed["workbook.exchange"] == {"theorylib", "mido", "music21"}
    assert "workbook.lesson" not in LAW.allowed["workbook.draw"] | LAW.allowed["workbook.play"]
    assert [room for room, allowed in LAW.allowed.items() if "workbook.cli" in allowed] == ["workbook.__main__"]
    assert LAW.steps["theorylib.reading.kinds"] == 0 < LAW.steps["theorylib.reading.harmony"]


def test_every_row_is_a_room_that_exists_and_every_library_is_declared() -> None:
    known = {name for package in PACKAGES for name in modules(ROOT, package)}
    assert set(LAW.allowed) <= known
    assert set(LAW.steps) <= known
    declared = (ROOT / "pyproject.toml").read_text(encoding="utf-8").lower()
    libraries = {word for allowed in LAW.allowed.values() for word in allowed if word not in known}
    carried = {"traitlets"}  # by ipywidgets
    assert [one for one in sorted(libraries - carried) if f'"{one.lower()}' not in declared] == []


def test_a_row_allows_nothing_that_nobody_needs() -> None:
    """A permission without a use is a door that stands open: each room and library named is imported."""
    known = {name: path for package in PACKAGES for name, path in modules(ROOT, package).items()}
    used: dict[str, set[str]] = {room: set() for room in LAW.allowed}
    for name, path in known.items():
        room = _room(name, LAW)
        assert room is not None
        for one in imports_of(name, path, set(known)):
            top = one.split(".")[0]
            used[room] |= {_room(one, LAW) or top, top}
    together = {"workbook.legible": "workbook.mimes", "theorylib.limits": "theorylib.plain_json"}  # rows of two modules
    for one, other in together.items():
        used[one] = used[other] = used[one] | used[other]
    assert {room: sorted(allowed - used[room]) for room, allowed in LAW.allowed.items() if allowed - used[room]} == {}


@pytest.mark.parametrize(("files", "expected"), [
    ({"theorylib/names/spelling.py": "from ..changes.charts import Chart", "theorylib/changes/charts.py": ""},
     "theorylib.names.spelling imports theorylib.changes.charts"),
    ({"theorylib/names/chords.py": "from . import scales", "theorylib/names/scales.py": ""},
     "theorylib.names.chords imports theorylib.names.scales"),
    ({"theorylib/reading/keys.py": "from .harmony import x", "theorylib/reading/harmony.py": ""},
     "theorylib.reading.keys imports theorylib.reading.harmony"),
    ({"theorylib/necks/tunings.py": "def f():\n    from numpy import array"}, "theorylib.necks.tunings imports numpy"),
    ({"theorylib/playing/lines.py": "from workbook import draw", "workbook/draw/__init__.py": ""},
     "theorylib.playing.lines imports workbook.draw"),
    ({"theorylib/mystery.py": ""}, "theorylib.mystery stands in no row"),
    ({"theorylib/names/mystery.py": ""}, "theorylib.names.mystery stands on no step"),
    ({"workbook/mystery/x.py": ""}, "workbook.mystery.x stands in no row"),
    ({"workbook/draw/neck.py": "from ..lesson import stored", "workbook/lesson/stored.py": ""},
     "workbook.draw.neck imports workbook.lesson.stored"),
    ({"workbook/play/smf.py": "from ..draw.neck import x", "workbook/draw/neck.py": ""},
     "workbook.play.smf imports workbook.draw.neck"),
    ({"workbook/handouts/page.py": "from ..library.making import x", "workbook/library/making.py": ""},
     "workbook.handouts.page imports workbook.library.making"),
    ({"workbook/widgets/panel.py": "import workbook.checking.check", "workbook/checking/check.py": ""},
     "workbook.widgets.panel imports workbook.checking.check"),
    ({"workbook/lesson/writing.py": "from ..draw import neck", "workbook/draw/neck.py": ""},
     "workbook.lesson.writing imports workbook.draw.neck"),
    ({"workbook/exchange/musicxml.py": "from ..play import smf", "workbook/play/smf.py": ""},
     "workbook.exchange.musicxml imports workbook.play.smf"),
    ({"workbook/kit.py": "from .cli import main", "workbook/cli.py": ""}, "workbook.kit imports workbook.cli"),
    ({"workbook/draw/score.py": "def f():\n    import numpy"}, "workbook.draw.score imports numpy"),
    ({"workbook/play/a.py": "from . import b", "workbook/play/b.py": "def f():\n    from .a import x"}, "cycle: "),
    ({"workbook/draw/score.py": "import verovio"}, "when it is imported"),
    ({"workbook/draw/long.py": "\n" * (LONGEST_FILE + 1)}, "401 lines"),
])
def test_the_law_finds_what_is_planted(tmp_path: Path, files: dict[str, str], expected: str) -> None:
    planted = {"theorylib/__init__.py": "", "workbook/__init__.py": "", **files}
    for name, text in planted.items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    found = problems(tmp_path, LAW)
    assert any(expected in problem for problem in found), found


def test_the_law_is_content_with_what_is_allowed(tmp_path: Path) -> None:
    for name, text in {"theorylib/__init__.py": "from .names.chords import x", "theorylib/errors.py": "import re",
                       "theorylib/names/chords.py": "from ..errors import x", "workbook/__init__.py": "",
                       "workbook/cli.py": "from .commands import building\nimport click",
                       "workbook/commands/building.py": "from ..library import making\nimport click",
                       "workbook/library/making.py": "from ..handouts import pack\nimport theorylib.names.chords",
                       "workbook/handouts/pack.py": "def f():\n    import typst"}.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert problems(tmp_path, LAW) == []


def test_every_module_says_what_it_is_for() -> None:
    for package in PACKAGES:
        for name, path in modules(ROOT, package).items():
            text = path.read_text(encoding="utf-8")
            assert ast.get_docstring(ast.parse(text)) or not text.strip(), f"{name} has no docstring"
