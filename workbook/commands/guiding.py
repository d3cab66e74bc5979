"""The command that finds a page of the guide, and prints the cheat sheet and the reference of the kit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from ..files import FileError, write_new
from .options import quiet
from .reports import json_option, silent, tell_json
from .terminal import say

_EXAMPLE = re.compile(r"Example:\n\s*(.+)")


@click.command()
@click.argument("words", nargs=-1)
@click.option("--sheet", type=click.Path(path_type=Path), metavar="FILE", help="Write the cheat sheet, a page in PDF.")
@click.option("--reference", "reference_file", type=click.Path(path_type=Path), metavar="FILE",
              help="Write the reference of the kit, name by name with pictures: a notebook (.ipynb) or a PDF.")
@json_option
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True)
@quiet
@click.pass_context
def guide(context: click.Context, words: tuple[str, ...], sheet: Path | None, reference_file: Path | None,
          quiet: bool, **how: Any) -> None:
    """Find the page of the guide that some WORDS are about, and the names of the kit; without words list the pages.

    \b
    Example:
      vampbook guide bends
      vampbook guide --sheet cheat-sheet.pdf
    """
    kit, json_file, paper = kit_names(), how["json_file"], how["paper"]
    if json_file is not None:
        from ..guide.pages import told_of

        tell_json(json_file, {"guide": told_of(" ".join(words), kit)})
    quiet = silent(quiet, json_file)
    if sheet is not None:
        _write(sheet, cheat_sheet(context, paper), quiet)
    if reference_file is not None:
        _write(reference_file, _reference(kit, reference_file, paper), quiet)
    if sheet is None and reference_file is None and not quiet:
        from ..guide.pages import guided

        for line in str(guided(" ".join(words), kit)).splitlines():
            say(re.sub(r"\*\*|(?<=\])\(.*?\)(?=:)|^- ", "", line))


def cheat_sheet(context: click.Context, paper: str = "a4") -> bytes:
    """The sheet as a PDF, with the first example of each command of the program."""
    from ..guide.sheet import sheet_pdf

    program = context.find_root().command
    commands = program.commands if isinstance(program, click.Group) else {}
    found = {name: _EXAMPLE.search(one.help or "") for name, one in commands.items()}
    return sheet_pdf(kit_names(), {name: example[1] for name, example in found.items() if example}, paper)


def kit_names() -> Mapping[str, Any]:
    from .. import kit

    return {name: getattr(kit, name) for name in kit.__all__}


def _reference(kit: Mapping[str, Any], path: Path, paper: str) -> bytes:
    import tempfile

    from ..guide.reference import reference
    from ..handouts.pdf import handout_pdf
    from ..running.run import run_lesson

    with tempfile.TemporaryDirectory() as empty:
        lesson = run_lesson(reference(kit, path), Path(empty))
    return handout_pdf(lesson, paper=paper) if path.suffix == ".pdf" else lesson.text.encode()


def _write(path: Path, content: bytes, quiet: bool) -> None:
    if path.suffix not in (".pdf", ".ipynb"):
        raise FileError(f"{path} is neither a PDF nor a notebook by its name", value=str(path),
                        expected="a name that ends with .pdf or .ipynb")
    if not (path.is_file() and path.read_bytes() == content):
        write_new(path, content)
    if not quiet:
        say(path)
