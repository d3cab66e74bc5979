"""Runs the pages of the guide in a teacher's folder of their own and keeps what they showed, for nbval to compare.

    python tests/tables/renew_guide.py [PAGE …]
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

import nbformat
from nbclient import NotebookClient

from workbook.cli import main
from workbook.lesson.lesson import Lesson
from workbook.running.run import frozen
from workbook.teacher_folder import places


def renew(pages: list[str]) -> None:
    with tempfile.TemporaryDirectory() as place:
        os.environ["VAMPBOOK_CACHE"] = str(Path(place) / "cache")
        main(["start", "--no-lab", "--quiet", f"{place}/mine"], standalone_mode=False)
        for name, source in places().items():
            if source.parent.name != "guide" or (pages and source.stem not in pages):
                continue
            page = Path(place) / "mine" / name
            notebook = nbformat.read(page, as_version=4)
            NotebookClient(notebook, resources={"metadata": {"path": str(page.parent)}}).execute()
            for cell in notebook.cells:
                if "nbval-ignore-output" in cell.metadata.get("tags", ()):
                    cell.outputs = []  # nobody compares it: a path of this machine, a sound
            Lesson(source, frozen(notebook)).write(new=False)
            print(source.name)


if __name__ == "__main__":
    renew(sys.argv[1:])
