"""Checking that lessons run and give what they recorded, by nbval."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
from collections.abc import Sequence
from pathlib import Path

from theorylib.errors import VampError

from ..lessons import read_lesson
from .findings import Finding


def check_runs(paths: Sequence[Path]) -> list[Finding]:
    """Run every lesson again and compare its outputs with the recorded ones, by nbval."""
    found = []
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "nbval.xml"
        command = [sys.executable, "-m", "pytest", "--nbval", "--nbval-current-env", "-q", "-p", "no:cacheprovider",
                   "-c", str(_empty_settings(Path(folder))), "--rootdir", _common(paths), f"--junitxml={report}",
                   *map(str, (path.resolve() for path in paths))]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if not report.exists():
            return [Finding(paths[0], 0, f"nbval did not run: {(done.stderr or done.stdout).strip()[-300:]}")]
        for case in ElementTree.parse(report).iter("testcase"):
            failure = case.find("failure") if case.find("failure") is not None else case.find("error")
            if failure is not None:
                told = case.get("classname", "") + case.get("name", "")
                path = max((one for one in paths if one.stem in told), key=lambda one: len(one.stem), default=paths[0])
                found.append(Finding(path, _cell_number(path, case.get("name", "")), _first_words(failure),
                                     right="run the lesson and save it, or put back what was changed"))
    return found


def check_recorded(path: Path) -> list[Finding]:
    """Cells that were never run: nbval would pass them in silence."""
    try:
        notebook = read_lesson(path)
    except VampError:
        return []  # check_truth says so already
    return [Finding(path, number, "this cell was never run", right="run the lesson and save it")
            for number, cell in enumerate(notebook["cells"], 1)
            if cell["cell_type"] == "code" and "".join(cell["source"]).strip() and cell.get("execution_count") is None]


def _common(paths: Sequence[Path]) -> str:
    """The folder above all lessons: nbval names a lesson by its path from there (and not at all from elsewhere)."""
    return os.path.commonpath([path.resolve().parent for path in paths])


def _empty_settings(folder: Path) -> Path:
    settings = folder / "pytest.ini"
    settings.write_text("[pytest]\n", encoding="utf-8")
    return settings


def _cell_number(path: Path, name: str) -> int:
    """nbval counts code cells from 0; a person counts all cells from 1."""
    digits = name.rsplit("::", 1)[-1].removeprefix("Cell ")
    code = [number for number, cell in enumerate(read_lesson(path)["cells"], 1) if cell["cell_type"] == "code"]
    return code[int(digits)] if digits.isdigit() and int(digits) < len(code) else 0


def _first_words(failure: ElementTree.Element) -> str:
    """What nbval says, without colours and without the cell's own text: the error's last line, or the difference."""
    text = re.sub(r"(?:\x1b|#x1B)\[[0-9;]*m", "", failure.text or failure.get("message") or "")
    lines = [line.strip() for line in text.splitlines() if line.strip(" -")]
    if any("outputs differ" in line for line in lines):
        now = [line[1:].strip() for line in lines if line.startswith("- ")]
        then = [line[1:].strip() for line in lines if line.startswith("+ ")]
        change = f": recorded “{then[0]}”, now “{now[0]}”" if now and then else ""
        return f"its output differs from the recorded one{change}"[:300]
    return f"it raises {lines[-1] if lines else 'an error'}"[:300]
