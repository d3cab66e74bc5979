"""What JupyterLab's menu and launcher ask for: a lesson written, checked or built, answered as JSON.

Each request is carried out by the `vampbook` command in a process of its own, beside the notebook that is open.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

_COMMAND = "import sys; from workbook.cli import main; main(sys.argv[1:], prog_name='vampbook')"
_LESSONS, _PACKS = "lessons", Path("build")


def answer(request: str) -> str:
    """The answer to a request of the browser's, run in the lesson's folder; what is wrong comes as `error`.

    >>> answer('{"what": "sing"}')
    '{"error": "“sing” is not asked here; expected new, check, build"}'
    """
    asked = json.loads(request)
    act = _ACTS.get(asked.get("what"))
    if act is None:
        said = f"“{asked.get('what')}” is not asked here; expected {', '.join(_ACTS)}"
        return json.dumps({"error": said}, ensure_ascii=False)
    return json.dumps(act(asked), ensure_ascii=False)


def _new(asked: Mapping[str, str]) -> dict[str, Any]:
    """{"path": …}, relative to the folder of the launcher; a teacher's folder has one for lessons."""
    folder = _LESSONS if Path(_LESSONS).is_dir() else "."
    options = [part for word in ("changes", "tempo", "feel") if asked.get(word)
               for part in (f"--{word}", asked[word])]
    done = _run("new", ["--folder", folder, *options], asked["title"].strip() or "Lesson")
    return {"error": done["error"]} if "error" in done else {"path": Path(done["written"]).as_posix()}


def _check(asked: Mapping[str, str]) -> dict[str, Any]:
    """{"words": …, "findings": [{"cell": …, "words": …}]}."""
    done = _run("check", [], asked["name"])
    if "error" in done:
        return done
    return told_findings([one for one in done["findings"] if not one["offer"]])


def _build(asked: Mapping[str, str]) -> dict[str, Any]:
    """{"words": …, "files": […], "notes": […]}, the files relative to the lesson's folder."""
    done = _run("build", ["--out", str(packs_folder())], asked["name"])
    if "error" in done:
        return done
    (pack,) = done["packs"]
    if pack["error"]:
        return {"error": pack["error"]}
    return {"words": "Built" if not pack["unchanged"] else "Unchanged since it was built",
            "files": told_files(pack), "notes": [pack["note"]] if pack["note"] else []}


def packs_folder() -> Path:
    """Where the packs of the current folder's lessons go, beside a folder of lessons."""
    return Path("..") / _PACKS if Path.cwd().name == _LESSONS else _PACKS


def told_files(pack: Mapping[str, Any]) -> list[str]:
    """The files of a pack, relative to the lesson's folder."""
    return sorted((Path(pack["folder"]) / name).as_posix() for name in pack["files"])


def told_findings(found: list[Any]) -> dict[str, Any]:
    """{"words": …, "findings": [{"cell": …, "words": …}]} of a command's findings, offers left out."""
    faults = sum(not one["note"] for one in found)
    words = f"{faults} problem{'' if faults == 1 else 's'} found" if faults else "Nothing false found"
    rows = [{"cell": one["cell"], "words": "; ".join(filter(None, (one["message"], one["right"])))} for one in found]
    return {"words": words, "findings": rows}


_ACTS: dict[str, Callable[[Mapping[str, str]], dict[str, Any]]] = {"new": _new, "check": _check, "build": _build}


def _run(command: str, options: list[str], word: str) -> dict[str, Any]:
    """What a command says as JSON; of one that says none, the line that tells why as `error`."""
    done = subprocess.run(words_of(command, options, word), capture_output=True, text=True, encoding="utf-8",
                          errors="replace", check=False, stdin=subprocess.DEVNULL)
    if done.stdout.startswith("{"):
        found: dict[str, Any] = json.loads(done.stdout)
        return found
    return {"error": why(done.stderr, done.returncode)}


def words_of(command: str, options: list[str], word: str) -> list[str]:
    """What starts a command that answers as JSON."""
    return [sys.executable, "-c", _COMMAND, command, "--json", "-", *options, "--", word]


def why(said: str, status: int) -> str:
    """The line that tells why a command did not do it."""
    lines = [line.strip().removeprefix("vampbook: ") for line in said.splitlines() if line.strip()]
    of_usage = status == 2  # its last line says what is wrong
    return (lines[-1] if of_usage else lines[0]) if lines else "it did not answer"
