"""What a check found and how much it looked at, as JUnit XML and as JSON."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from types import MappingProxyType

from ..files import FileError, read_text, write_whole
from ..legible import legible
from .counts import Counts
from .findings import LAYERS, Finding

_NONE: Mapping[Path, Counts] = MappingProxyType({})
_KINDS = "lessons|packs|written|refreshed|phrases|paired|guide|machine"  # the first word of each command's report
_REPORT = re.compile(rf"""\{{\n "({_KINDS})": |<\?xml [^>]*\?>\n<testsuites name="vampbook check\"""")


def write_report(path: Path, text: str) -> None:
    """Write a report (as_json, as_junit) over an older one; raises FileError where anything else lies there."""
    there = read_text(path) if path.exists() else ""
    if there and not _REPORT.match(there):
        raise FileError(f"{path} holds something else than a report", value=str(path), expected="another name for it")
    write_whole(path, text)


def as_json(paths: Sequence[Path], findings: Sequence[Finding], counts: Mapping[Path, Counts] = _NONE) -> str:
    """{"lessons": [...], "findings": [...], "counts": {lesson: {"lines": …}}}, stable."""
    rows = [{"lesson": legible(one.path), "cell": one.cell, "line": one.line, "layer": one.layer,
             "message": legible(one.message), "right": legible(one.right), "offer": one.offer, "note": one.note}
            for one in findings]
    checked = {legible(path): asdict(one) for path, one in counts.items()}
    report = {"lessons": list(map(legible, paths)), "findings": rows, "counts": checked}
    return json.dumps(report, ensure_ascii=False, indent=1) + "\n"


def as_junit(paths: Sequence[Path], findings: Sequence[Finding], counts: Mapping[Path, Counts] = _NONE) -> str:
    """One test suite a lesson and one case a layer, as continuous integration reads it; counts as its properties."""
    root = ElementTree.Element("testsuites", name="vampbook check")
    for path in paths:
        faults = [one for one in findings if one.path == path and one.is_fault]
        suite = ElementTree.SubElement(root, "testsuite", name=legible(path), tests=str(len(LAYERS)),
                                       failures=str(len({one.layer for one in faults})))
        _properties(suite, counts.get(path))
        for layer, words in LAYERS.items():
            case = ElementTree.SubElement(suite, "testcase", classname=legible(path), name=words)
            here = [one for one in faults if one.layer == layer]
            if here:
                failure = ElementTree.SubElement(case, "failure", message=legible(here[0].message))
                failure.text = "\n".join(map(legible, here))
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="unicode", xml_declaration=True) + "\n"


def _properties(suite: ElementTree.Element, counts: Counts | None) -> None:
    if counts is not None:
        properties = ElementTree.SubElement(suite, "properties")
        for name, value in asdict(counts).items():
            ElementTree.SubElement(properties, "property", name=name, value=str(value))
