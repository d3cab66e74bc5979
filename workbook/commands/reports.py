"""What a command did as JSON, for scripts: to a file, or with - to the terminal's own output."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..checking.reports import write_report

if TYPE_CHECKING:
    from ..library.orders import Outcome

STDOUT = Path("-")

json_option = click.option("--json", "json_file", type=click.Path(path_type=Path), metavar="FILE",
                           help="Write what was done as JSON, too; - prints it in place of the lines.")


def silent(quiet: bool, json_file: Path | None) -> bool:
    """Whether the lines for people are left out: asked for, or because JSON takes their place."""
    return quiet or json_file == STDOUT


def tell_json(json_file: Path | None, value: dict[str, Any]) -> None:
    """Write a report where it is wanted; raises FileError where a file of that name is no report."""
    if json_file is not None:
        tell_text(json_file, json.dumps(value, ensure_ascii=json_file == STDOUT, indent=1) + "\n")


def tell_text(json_file: Path, text: str) -> None:
    if json_file == STDOUT:
        click.echo(text.rstrip("\n"))
    else:
        write_report(json_file, text)


def packs_json(outcomes: Sequence[Outcome]) -> dict[str, Any]:
    """{"packs": [{"lesson": …, "folder": …, "files": […], "unchanged": …, "note": …, "error": …}]}, in their order."""
    return {"packs": [{"lesson": str(one.path), "folder": str(one.folder), "files": list(one.files),
                       "unchanged": one.unchanged, "note": one.note, "error": one.error} for one in outcomes]}
