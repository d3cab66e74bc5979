"""How easily the code reads, as counts with bounds: what stands on a line, how long a function is, what it is given.

A line of code here is one that is neither blank, nor a comment, nor part of a docstring. Syntax nodes are those of
Python's own parser, docstrings apart. For comparison, counted the same way: mir_eval 8.3, click 6.9, nbconvert 5.5.
`python tests/test_readable.py` prints the counts of each package and wing.
"""

from __future__ import annotations

import ast
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
MOST_NODES_A_LINE = 10.5  # in theorylib
LONGEST_FUNCTION = 40  # lines, its docstring apart
MOST_PARAMETERS = 6
# Functions beyond MOST_PARAMETERS: drills and what a teacher says of a recording or a phrase, each with its default.
MOST_PARAMETERS_OF_ANY = 9
MOST_WITH_MORE = {"theorylib": 6, "workbook": 6}
MOST_LONG = {"theorylib": 0, "workbook": 4}  # functions beyond LONGEST_FUNCTION
_BRANCHES = (ast.If, ast.IfExp, ast.For, ast.While, ast.comprehension, ast.BoolOp, ast.ExceptHandler)
_NAMED = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.Module)


@dataclass(frozen=True)
class Counts:
    """Of some files together."""

    nodes: int
    lines: int  # of code
    branches: int
    comments: int
    all_lines: int

    @property
    def nodes_a_line(self) -> float:
        return self.nodes / max(1, self.lines)

    @property
    def branches_in_ten_lines(self) -> float:
        return 10 * self.branches / max(1, self.lines)

    def __str__(self) -> str:
        return (f"{self.nodes_a_line:5.2f} nodes a line, {self.branches_in_ten_lines:4.2f} branches in ten lines, "
                f"{100 * self.comments / max(1, self.all_lines):3.1f} % comments, {self.lines} lines of code")


@cache
def parsed(text: str) -> ast.Module:
    return ast.parse(text)


def docstring_of(node: ast.AST) -> ast.Expr | None:
    if isinstance(node, _NAMED) and ast.get_docstring(node, clean=False) is not None:
        first = node.body[0]
        return first if isinstance(first, ast.Expr) else None
    return None


def counted(texts: Iterable[str]) -> Counts:
    nodes = lines = branches = comments = all_lines = 0
    for text in texts:
        tree = parsed(text)
        every = list(ast.walk(tree))
        docstrings = [found for node in every if (found := docstring_of(node))]
        in_docstring = {row for one in docstrings for row in range(one.lineno, (one.end_lineno or one.lineno) + 1)}
        written = [(row, line.strip()) for row, line in enumerate(text.splitlines(), 1) if line.strip()]
        code = [line for row, line in written if row not in in_docstring and not line.startswith("#")]
        nodes += len(every) - 2 * len(docstrings)
        branches += sum(isinstance(node, _BRANCHES) for node in every)
        lines += len(code)
        comments += sum(line.startswith("#") or "  # " in line for row, line in written if row not in in_docstring)
        all_lines += len(text.splitlines())
    return Counts(nodes, lines, branches, comments, all_lines)


def functions(text: str) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    for node in ast.walk(parsed(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


def length_of(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function, its docstring apart."""
    said = docstring_of(function)
    of_docstring = 0 if said is None else (said.end_lineno or said.lineno) - said.lineno + 1
    return (function.end_lineno or function.lineno) - function.lineno + 1 - of_docstring


def parameters_of(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    given = function.args
    names = [one.arg for one in (*given.posonlyargs, *given.args, *given.kwonlyargs)]
    return len([name for name in names if name not in ("self", "cls")]) + bool(given.vararg) + bool(given.kwarg)


def texts_of(package: str) -> dict[str, str]:
    return {str(path.relative_to(ROOT)): path.read_text(encoding="utf-8")
            for path in sorted((ROOT / package).rglob("*.py")) if "__pycache__" not in path.parts}


def too_long(texts: dict[str, str]) -> list[str]:
    return [f"{name}: {one.name}, {length_of(one)} lines" for name, text in texts.items() for one in functions(text)
            if length_of(one) > LONGEST_FUNCTION]


def with_many_parameters(texts: dict[str, str]) -> list[str]:
    return [f"{name}: {one.name}, {parameters_of(one)} parameters" for name, text in texts.items()
            for one in functions(text) if parameters_of(one) > MOST_PARAMETERS]


def test_the_theory_holds_one_idea_a_line() -> None:
    found = counted(texts_of("theorylib").values())
    assert found.nodes_a_line < MOST_NODES_A_LINE, str(found)


def test_functions_are_read_at_a_glance() -> None:
    for package, most in MOST_LONG.items():
        found = too_long(texts_of(package))
        assert len(found) <= most, found


def test_functions_are_given_few_things() -> None:
    for package, most in MOST_WITH_MORE.items():
        texts = texts_of(package)
        found = with_many_parameters(texts)
        assert len(found) <= most, found
        assert max(parameters_of(one) for text in texts.values() for one in functions(text)) <= MOST_PARAMETERS_OF_ANY


def test_the_measure_counts_what_it_says() -> None:
    """Two texts that do the same, counted by hand."""
    text = '"""Why."""\n\n# A reason.\nx = 1\n\n\ndef f(a, *, b=2):\n    """What."""\n    return a if b else x\n'
    found = counted([text])
    # Module, Assign, Name, Store, Constant; FunctionDef, arguments, two args, Constant, Return, IfExp, three Names,
    # each with its Load.
    assert (found.lines, found.comments, found.all_lines, found.branches) == (3, 1, 9, 1)
    assert found.nodes == 18
    (function,) = functions(text)
    assert (length_of(function), parameters_of(function)) == (2, 2)


def test_dense_code_is_found() -> None:
    dense = "x = [a[b](c) if d else e.f(g, h)[i] for j, k in l.m(n) if o and p(q) for r in s(t)[u:v]]\n" * 40
    assert counted([dense]).nodes_a_line > MOST_NODES_A_LINE
    long = "def f():\n" + "    x = 1\n" * LONGEST_FUNCTION
    many = f"def f({', '.join('abcdefg')}):\n    return 1\n"
    assert too_long({"planted": long}) == ["planted: f, 41 lines"]
    assert with_many_parameters({"planted": many}) == ["planted: f, 7 parameters"]
    assert too_long({"planted": "def f():\n" + "    x = 1\n" * (LONGEST_FUNCTION - 1)}) == []


if __name__ == "__main__":
    for folder in ("theorylib", *sorted(str(path.relative_to(ROOT)) for path in (ROOT / "theorylib").iterdir()
                                        if path.is_dir() and path.name != "__pycache__"), "workbook"):
        print(f"{folder:22} {counted(texts_of(folder).values())}")
    for package in MOST_LONG:
        print(*too_long(texts_of(package)), *with_many_parameters(texts_of(package)), sep="\n")
