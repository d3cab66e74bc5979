"""What a check finds, and how it is told: as lines of text, as JUnit XML and as JSON."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from theorylib.errors import VampError

from ..files import FileError, read_text, write_whole
from ..legible import legible

RUNS, TRUE, USABLE = "runs", "true", "usable"
_REPORT = re.compile(r"""\{\n "lessons": \[|<\?xml [^>]*\?>\n<testsuites name="vampbook check\"""")
LAYERS = {RUNS: "it runs", TRUE: "it is true", USABLE: "it can be used"}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing wrong with a lesson: file, cell and line within it (0: the whole), what it is and what would be right.

    An `offer` is no fault: something that could be checked if it were marked; nor is a `note`, a word to the teacher.
    """

    path: Path
    cell: int
    message: str
    layer: str = RUNS
    line: int = 0
    right: str = ""
    offer: bool = False
    note: bool = False

    @property
    def is_fault(self) -> bool:
        return not (self.offer or self.note)

    def __str__(self) -> str:
        place = f": cell {self.cell}" * bool(self.cell) + f", line {self.line}" * bool(self.line)
        return f"{self.path}{place}: {self.message}" + (f"; {self.right}" if self.right else "")


def refused(path: Path, error: VampError) -> Finding:
    """What could not be read as a finding, at the cell that the error names."""
    place = error.where.removeprefix(f"{path}: ")
    cell = re.match(r"cell (\d{1,9})(?:, )?", place)
    rest = place[cell.end():] if cell else place
    return Finding(path, int(cell[1]) if cell else 0, str(error.at(rest)), TRUE)


def write_report(path: Path, text: str) -> None:
    """Write a report (as_json, as_junit) over an older one; raises FileError where anything else lies there."""
    there = read_text(path) if path.exists() else ""
    if there and not _REPORT.match(there):
        raise FileError(f"{path} holds something else than a report", value=str(path), expected="another name for it")
    write_whole(path, text)


def as_json(paths: Sequence[Path], findings: Sequence[Finding]) -> str:
    """{"lessons": [...], "findings": [...]}, stable."""
    rows = [{"lesson": legible(one.path), "cell": one.cell, "line": one.line, "layer": one.layer,
             "message": legible(one.message), "right": legible(one.right), "offer": one.offer, "note": one.note}
            for one in findings]
    report = {"lessons": list(map(legible, paths)), "findings": rows}
    return json.dumps(report, ensure_ascii=False, indent=1) + "\n"


def as_junit(paths: Sequence[Path], findings: Sequence[Finding]) -> str:
    """One test suite a lesson and one case a layer, as continuous integration reads it."""
    root = ElementTree.Element("testsuites", name="vampbook check")
    for path in paths:
        faults = [one for one in findings if one.path == path and one.is_fault]
        suite = ElementTree.SubElement(root, "testsuite", name=legible(path), tests=str(len(LAYERS)),
                                       failures=str(len({one.layer for one in faults})))
        for layer, words in LAYERS.items():
            case = ElementTree.SubElement(suite, "testcase", classname=legible(path), name=words)
            here = [one for one in faults if one.layer == layer]
            if here:
                failure = ElementTree.SubElement(case, "failure", message=legible(here[0].message))
                failure.text = "\n".join(map(legible, here))
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="unicode", xml_declaration=True) + "\n"
