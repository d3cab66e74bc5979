"""Modules of script as one text: each in a scope of its own, after those that it imports.

A page may load nothing, and a panel is one text, so neither can hold files that import each other. A module says what
it takes and what it gives in the plainest form of the language, one line each, and anything else is refused:

    import { name, other } from "./file.js";
    export function name …   export async function name …   export const NAME = …   export default …   (the last: once)

What is exported is never assigned again, so that a copy of it is as good as the thing itself. The same files give the
same bytes. Source of the forms: ECMA-262, 16.2 (Modules).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from theorylib.errors import VampError

_IMPORT = re.compile(r'import \{ ([\w$]+(?:, [\w$]+)*) \} from "(\.{1,2}/[\w./-]+\.js)";')
_EXPORT = re.compile(r"export (default )?(?:(async function|function|const) ([\w$]+))?")
_OTHER_MODULE = re.compile(r"^\s*(?:import\b|export\b)|\bimport\s*[(.]")  # said in a form that is not ours
_ENDS_THE_ELEMENT = re.compile(r"</script|<!--|-->", re.IGNORECASE)
_SCOPE = "$module"  # no name of ours begins so
_DEFAULT = f"const {_SCOPE}_default = "


class BundleError(VampError):
    """A module of script that cannot be joined to the others."""


@dataclass(frozen=True, slots=True)
class Module:
    """A file's own lines, what it takes from which file, and what it gives."""

    path: Path
    lines: tuple[str, ...]
    takes: tuple[tuple[tuple[str, ...], Path], ...]
    gives: tuple[str, ...]


def script(entry: Path) -> str:
    """A classic script for an element of a page: the entry and all that it imports, nothing left outside.

    Raises BundleError for a form of import or export that is not ours, a name that a file does not give, a circle of
    imports, and for what would end the element that holds it.
    """
    *before, last = _in_order(entry.resolve())
    return f'(() => {{\n"use strict";\n{_joined(before, last, last.lines)}}})();\n'


def module(entry: Path) -> str:
    """One ES module, as a panel wants it: what it imports stands before it, its `export default` stays."""
    *before, last = _in_order(entry.resolve())
    if "default" not in last.gives:
        raise BundleError("a panel's script gives no default", value=entry.name, expected="export default …")
    return _joined(before, last, tuple(_default(line) for line in last.lines))


def read_module(path: Path) -> Module:
    """One file, its imports and exports taken from its lines."""
    lines: list[str] = []
    takes: list[tuple[tuple[str, ...], Path]] = []
    gives: list[str] = []
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        taken = _IMPORT.fullmatch(line)
        given = _EXPORT.match(line)
        if taken:
            takes.append((tuple(taken[1].split(", ")), (path.parent / taken[2]).resolve()))
        elif given and bool(given[1]) != bool(given[3]):
            gives.append(given[3] or "default")
            lines.append((_DEFAULT if given[1] else f"{given[2]} {given[3]}") + line[given.end():])
        elif _OTHER_MODULE.search(line) or _SCOPE in line:
            raise BundleError("a line that cannot be joined", value=line.strip(), where=f"{path.name}, line {number}",
                              expected='import { name } from "./file.js"; or export function, const, default')
        else:
            lines.append(line)
    return Module(path, tuple(lines), tuple(takes), tuple(gives))


def _in_order(entry: Path) -> list[Module]:
    """The entry's modules, each after those that it imports, the entry last."""
    found: dict[Path, Module] = {}

    def visit(path: Path, way: tuple[Path, ...]) -> Module:
        if path in way:
            circle = " → ".join(one.name for one in (*way[way.index(path):], path))
            raise BundleError("modules import each other in a circle", value=circle)
        if path not in found:
            one = read_module(path)
            for names, other in one.takes:
                given = visit(other, (*way, path)).gives
                missing = [name for name in names if name not in given]
                if missing:
                    raise BundleError(f"{other.name} gives no {missing[0]}", value=missing[0], where=path.name,
                                      expected=", ".join(given))
            found[path] = one
        return found[path]

    visit(entry, ())
    return list(found.values())


def _joined(before: list[Module], last: Module, own: tuple[str, ...]) -> str:
    number = {one.path: place for place, one in enumerate(before)}
    parts = [line for one in before for line in _scope(one, number)]
    text = "\n".join([*parts, *_taken(last, number), *own]) + "\n"
    ending = _ENDS_THE_ELEMENT.search(text)
    if ending:
        raise BundleError("a script would end the element that holds it", value=ending[0], where=last.path.name)
    return text


def _scope(one: Module, number: dict[Path, int]) -> list[str]:
    """A module as a scope that hands out what it exports."""
    return [f"const {_SCOPE}{number[one.path]} = (() => {{", *_taken(one, number), *one.lines,
            f"return {{ {', '.join(one.gives)} }};", "})();"]


def _taken(one: Module, number: dict[Path, int]) -> list[str]:
    return [f"const {{ {', '.join(names)} }} = {_SCOPE}{number[other]};" for names, other in one.takes]


def _default(line: str) -> str:
    return line.replace(_DEFAULT, "export default ", 1) if line.startswith(_DEFAULT) else line
