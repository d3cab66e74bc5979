"""Checking lessons: they run, they give what they recorded, and their music is true."""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from theorylib.difficulty import line_difficulty
from theorylib.errors import VampError

from .. import prose
from ..care import CARE
from ..lessons import lines_in, read_lesson, tempo_of


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing wrong with a lesson: the file, the cell (0 for the whole lesson) and what it is."""

    path: Path
    cell: int
    message: str

    def __str__(self) -> str:
        return f"{self.path}: cell {self.cell}: {self.message}" if self.cell else f"{self.path}: {self.message}"


def check_music(path: Path) -> list[Finding]:
    """Every false place, degree or bar in the lesson's stored lines, and a missing caution."""
    try:
        notebook = read_lesson(path)
        lines = lines_in(notebook)
    except VampError as error:
        return [Finding(path, 0, str(error))]
    found = [Finding(path, cell, problem) for cell, line in lines for problem in line.problems()]
    words = "".join(_words(notebook))
    for cell, line in lines:
        reasons = line_difficulty(line, tempo_of(notebook)).reasons
        if reasons and "**Care**" not in words:
            found.append(Finding(path, cell, f"the drill needs the caution, since {prose.listed(reasons)}: "
                                 f"add a paragraph that begins with “{CARE[:10]}”"))
    return found


def _words(notebook: dict[str, Any]) -> Iterator[str]:
    """All the prose of a lesson: its Markdown cells and what its code cells show as Markdown."""
    for cell in notebook["cells"]:
        if cell["cell_type"] == "markdown":
            yield "".join(cell["source"])
        for output in cell.get("outputs", ()):
            yield "".join(output.get("data", {}).get("text/markdown", ""))


def check_runs(paths: Sequence[Path]) -> list[Finding]:
    """Run every lesson again and compare its outputs with the recorded ones, by nbval."""
    found = []
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "nbval.xml"
        command = [sys.executable, "-m", "pytest", "--nbval", "--nbval-current-env", "-q", "-p", "no:cacheprovider",
                   "-c", str(_empty_settings(Path(folder))), "--rootdir", folder, f"--junitxml={report}",
                   *map(str, (path.resolve() for path in paths))]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if not report.exists():
            return [Finding(paths[0], 0, f"nbval did not run: {(done.stderr or done.stdout).strip()[-300:]}")]
        for case in ElementTree.parse(report).iter("testcase"):
            failure = case.find("failure") if case.find("failure") is not None else case.find("error")
            if failure is not None:
                told = case.get("classname", "") + case.get("name", "")
                path = next((one for one in paths if one.stem in told), paths[0])
                found.append(Finding(path, _cell_number(path, case.get("name", "")), _first_words(failure)))
    return found


def check_recorded(path: Path) -> list[Finding]:
    """Cells that were never run: nbval would pass them in silence."""
    try:
        notebook = read_lesson(path)
    except VampError:
        return []  # check_music says so already
    return [Finding(path, number, "this cell was never run: run the lesson and save it")
            for number, cell in enumerate(notebook["cells"], 1)
            if cell["cell_type"] == "code" and "".join(cell["source"]).strip() and cell.get("execution_count") is None]


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
