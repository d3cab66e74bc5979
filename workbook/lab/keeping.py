"""A pack kept current while its notebook is open in JupyterLab: the command `watch`, and a kernel that tells of it.

The kernel is there for this alone and ends with the switch; the command ends with the kernel, however that ends.
"""

from __future__ import annotations

import atexit
import json
import subprocess
import threading
from typing import Any

from . import packs_folder, told_files, told_findings, why, words_of

_last = "{}"  # what was told of the pack that was made last
_lock = threading.Lock()
_threads: list[threading.Thread] = []
_ending = threading.Event()  # the kernel is: what the command says as it is made to stop is nobody's news


def keep(name: str) -> None:
    """Keep the pack of a lesson in the current folder current, and print each answer as a line of JSON.

    {"words": …, "findings": [{"cell": …, "words": …}], "files": […], "notes": […]}, or {"error": …}; the one that says
    "ended" is the last, with its "error" where it did not end by being told to.
    """
    options = ["--out", str(packs_folder()), "--with-parent"]
    watching = subprocess.Popen(words_of("watch", options, name), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                                stderr=subprocess.PIPE, text=True, encoding="utf-8", errors="replace")
    atexit.register(_end, watching)
    said: list[str] = []
    _threads[:] = [threading.Thread(target=said.extend, args=(watching.stderr,), daemon=True),
                   threading.Thread(target=_follow, args=(watching, said), daemon=True)]
    for one in _threads:
        one.start()


def _end(watching: subprocess.Popen[str]) -> None:
    _ending.set()
    watching.terminate()


def told() -> None:
    """Print the last answer once more, for a page that was loaded anew."""
    with _lock:
        print(_last, flush=True)


def _follow(watching: subprocess.Popen[str], said: list[str]) -> None:
    for line in watching.stdout or ():
        _tell(_answer(json.loads(line)))
    status = watching.wait()
    _threads[0].join()
    failed = bool(said) and not _ending.is_set()
    _tell({"ended": True} | ({"error": why("".join(said[-20:]), status)} if failed else {}))


def _answer(done: dict[str, Any]) -> dict[str, Any]:
    (pack,) = done["packs"]
    if pack["error"]:
        return {"error": pack["error"]}
    found = told_findings(done["findings"])
    how = "run and made" if pack["was_run"] else "made"
    words = f"The pack is as you saved it ({how} in {pack['seconds']:.1f} s). {found['words']}"
    return found | {"words": words, "files": told_files(pack), "notes": [pack["note"]] if pack["note"] else []}


def _tell(answer: dict[str, Any]) -> None:
    global _last
    with _lock:
        _last = json.dumps(answer, ensure_ascii=False)
        print(_last, flush=True)
