"""What Lab's menu is answered: a lesson written, checked and built by the command, told as JSON."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from support.short import short_lesson

from workbook.lab import answer


def asked(**request: str) -> dict[str, object]:
    told: dict[str, object] = json.loads(answer(json.dumps(request)))
    return told


def test_a_lesson_is_built_beside_its_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lessons = tmp_path / "lessons"
    lessons.mkdir()
    monkeypatch.chdir(lessons)
    Path("slack water.ipynb").write_text(short_lesson(), encoding="utf-8")
    built = asked(what="build", name="slack water.ipynb")
    assert built["words"] == "Built"
    assert "../build/slack-water/handout.pdf" in built["files"]  # type: ignore[operator]
    assert Path("../build/slack-water/handout.pdf").read_bytes().startswith(b"%PDF")


def test_what_is_wrong_comes_in_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    told = asked(what="new", title="--help", changes="| Gm7 | Qb |")
    assert str(told["error"]).startswith("line 1, column 9: “Qb” is not a chord symbol")
    assert "“samba”" in str(asked(what="new", title="A", changes="| G |", feel="samba")["error"])
    assert list(tmp_path.rglob("*.ipynb")) == []


def test_a_new_lesson_lies_among_the_lessons(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Asked for at the top of a teacher's folder, as from its welcome, or in the folder itself."""
    (tmp_path / "lessons").mkdir()
    monkeypatch.chdir(tmp_path)
    assert asked(what="new", title="Morning ferry", changes="| Gm7 | C9 |")["path"] == "lessons/morning-ferry.ipynb"
    monkeypatch.chdir("lessons")
    assert asked(what="new", title="Night bus", changes="| Gm7 | C9 |")["path"] == "night-bus.ipynb"
    assert {path.name for path in tmp_path.rglob("*.ipynb")} == {"morning-ferry.ipynb", "night-bus.ipynb"}


def told(*packs: dict[str, object], error: str = "", status: int = 0, kernel_ends: bool = False,
         ) -> list[dict[str, object]]:
    """What a kernel that keeps a pack prints while the command gives these answers, and how it ends."""
    first = "keeping._end(subprocess.Popen(['true'])); " if kernel_ends else ""
    lines = "".join(json.dumps(one) + "\n" for one in packs)
    script = f"import sys; sys.stdout.write({lines!r}); sys.stderr.write({error!r}); sys.exit({status})"
    call = (f"import subprocess, sys; from workbook.lab import keeping; {first}keeping.words_of = lambda *_: "
            f"[sys.executable, '-c', {script!r}]; keeping.keep('x.ipynb'); [one.join() for one in keeping._threads]; "
            "print('last'); keeping.told()")
    done = subprocess.run([sys.executable, "-c", call], capture_output=True, text=True, encoding="utf-8", check=True)
    return [json.loads(line) if line != "last" else {} for line in done.stdout.splitlines()]


def test_a_kept_pack_tells_of_each_time_and_of_its_end() -> None:
    pack = {"folder": "../build/x", "files": ["lesson.html"], "error": "", "note": "a word", "seconds": 0.53,
            "was_run": True}
    finding = {"cell": 2, "message": "no", "right": "yes", "note": False}
    first, failed, ended, _, again = told(
        {"packs": [pack], "findings": [finding]}, {"packs": [pack | {"error": "cell 3: no"}], "findings": []},
        error="vampbook: gone\n", status=1)
    assert first == {"words": "The pack is as you saved it (run and made in 0.5 s). 1 problem found",
                     "findings": [{"cell": 2, "words": "no; yes"}], "files": ["../build/x/lesson.html"],
                     "notes": ["a word"]}
    assert failed == {"error": "cell 3: no"}
    assert ended == again == {"error": "gone", "ended": True}
    assert told(status=15)[0] == {"ended": True}, "told to, it ends without a word"
    assert told(error="interrupted", status=1, kernel_ends=True)[0] == {"ended": True}, "its words are nobody's news"
