"""Building many lessons: only what changed, failures apart, and a killed build leaves nothing half-written."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from random import Random
from typing import Any

import pytest
from support.lab import ROOT
from support.short import BRIEF, short_lesson

from workbook.library import records
from workbook.library.library import build_library
from workbook.library.mark import MARK
from workbook.library.orders import How, Outcome, orders_for

LESSON = short_lesson()
OPTIONS: dict[str, Any] = {"paper": "a4", "large_print": False, "sound": BRIEF}

pytestmark = pytest.mark.usefixtures("warm")


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / "cache"))


def lessons(folder: Path, count: int) -> list[Path]:
    folder.mkdir(exist_ok=True)
    paths = [folder / f"lesson-{number}.ipynb" for number in range(count)]
    for number, path in enumerate(paths):
        path.write_text(LESSON.replace("Slack water", f"Slack water {number}"), encoding="utf-8")
    return paths


def built(paths: list[Path], out: Path, **choices: Any) -> dict[str, Outcome]:
    return {one.path.name: one for one in outcomes(paths, out, **choices)}


def outcomes(paths: list[Path], out: Path, *, run: bool = False, options: dict[str, Any] | None = None,
             **choices: Any) -> list[Outcome]:
    return list(build_library(orders_for(paths, out), How(OPTIONS | (options or {}), run), **choices))


def content(out: Path) -> dict[str, bytes]:
    return {str(path.relative_to(out)): path.read_bytes() for path in out.rglob("*") if path.is_file()}


def test_only_what_changed_is_built_again(tmp_path: Path) -> None:
    paths, out = lessons(tmp_path / "lessons", 2), tmp_path / "out"
    assert not any(one.unchanged or one.error for one in built(paths, out).values())
    first = content(out)
    assert all(one.unchanged for one in built(paths, out).values())
    paths[1].write_text(paths[1].read_text(encoding="utf-8").replace("Slack water 1", "Low tide"), encoding="utf-8")
    again = built(paths, out)
    assert [name for name, one in again.items() if not one.unchanged] == ["lesson-1.ipynb"]
    assert b"Low tide" in (out / "lesson-1" / "lesson.html").read_bytes()
    assert {name: data for name, data in content(out).items() if "lesson-1/" not in name} == {
        name: data for name, data in first.items() if "lesson-1/" not in name}
    forced = built(paths, out, force=True)
    assert not any(one.unchanged for one in forced.values())


def test_whatever_a_pack_is_made_from_rebuilds_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    paths, out = lessons(tmp_path / "lessons", 1), tmp_path / "out"

    def stands(**choices: Any) -> bool:
        (one,) = built(paths, out, **choices).values()
        assert not one.error
        return one.unchanged

    assert [stands(), stands()] == [False, True]
    assert [stands(options={"paper": "letter"}), stands(options={"paper": "letter"}), stands()] == [False, True, False]
    (out / "lesson-0" / "lesson.mid").unlink()
    assert [stands(), stands()] == [False, True]
    (out / "lesson-0" / MARK).unlink()
    assert [stands(), stands()] == [False, True]
    (out / "lesson-0" / "more.txt").write_text("more", encoding="utf-8")
    assert stands(), "what others put into a pack is no change of it"
    (tmp_path / "cache").rename(tmp_path / "old")
    assert [stands(), stands()] == [False, True]
    monkeypatch.setattr(records, "program", lambda: "another version")
    assert [stands(), stands()] == [False, True]


def test_a_file_beside_a_lesson_that_runs_counts(tmp_path: Path) -> None:
    """Seen again at each build, in one long-lived process too."""
    paths, out = lessons(tmp_path / "lessons", 1), tmp_path / "out"

    def stands() -> bool:
        return built(paths, out, run=True)["lesson-0.ipynb"].unchanged

    assert [stands(), stands()] == [False, True]
    (tmp_path / "lessons" / "words.csv").write_text("a,b", encoding="utf-8")
    assert [stands(), stands()] == [False, True]


def test_whatever_a_lesson_reads_counts_wherever_it_lies(tmp_path: Path) -> None:
    """In a folder below, elsewhere, a module of the teacher's own, and a file that is not there yet."""
    paths, out = lessons(tmp_path / "lessons", 2), tmp_path / "out"
    below, elsewhere = tmp_path / "lessons" / "inner" / "words.txt", tmp_path / "elsewhere.txt"
    module, coming = tmp_path / "lessons" / "inner" / "helping.py", tmp_path / "lessons" / "inner" / "coming.txt"
    below.parent.mkdir()
    for path in (below, elsewhere):
        path.write_text("first", encoding="utf-8")
    module.write_text("word = 'first'\n", encoding="utf-8")
    source = f"""import contextlib, inner.helping
assert open('inner/words.txt').read() and open({str(elsewhere)!r}).read() and inner.helping.word
with contextlib.suppress(OSError):
    open('inner/coming.txt')
open('inner/written.txt', 'w').write('by the lesson')
"""
    lesson = json.loads(paths[0].read_text(encoding="utf-8"))
    cell = next(cell for cell in lesson["cells"] if cell["cell_type"] == "code")
    cell["source"] = source + "".join(cell["source"])
    paths[0].write_text(json.dumps(lesson), encoding="utf-8")

    def unchanged() -> list[bool]:
        done = built(paths, out, run=True)
        assert not any(one.error for one in done.values()), done
        return [done[path.name].unchanged for path in paths]

    assert [unchanged(), unchanged()] == [[False, False], [True, True]]
    for path, text in ((below, "second"), (elsewhere, "second"), (module, "word = 'second'\n"), (coming, "there")):
        path.write_text(text, encoding="utf-8")
        assert [unchanged(), unchanged()] == [[False, True], [True, True]], path.name
    (below.parent / "written.txt").unlink()
    assert unchanged() == [True, True], "what it only writes does not matter"


def test_one_that_fails_does_not_stop_the_rest(tmp_path: Path) -> None:
    folder, out = tmp_path / "lessons", tmp_path / "out"
    paths = lessons(folder, 2)
    for name, text in {"torn": LESSON[:400], "empty": "", "list": "[]",
                       "script": LESSON.replace("</svg>", "<script>1</script></svg>")}.items():
        paths.append(folder / f"{name}.ipynb")
        paths[-1].write_text(text, encoding="utf-8")
    (folder / "inner").mkdir()
    paths += [folder / "gone.ipynb", folder / "inner" / "lesson-1.ipynb"]
    paths[-1].write_text(LESSON, encoding="utf-8")
    done = outcomes(paths, out, jobs=2)
    assert len(done) == len(paths)
    good = [one.path.name for one in done if not one.error]
    assert good == ["lesson-0.ipynb"]
    assert all(str(one.path.name) in one.error or "share a pack" in one.error for one in done if one.error), done
    assert {path.name for path in out.iterdir()} == {"lesson-0"}


def test_no_name_leaves_the_folder_of_packs(tmp_path: Path) -> None:
    folder = tmp_path / "lessons"
    folder.mkdir()
    path = folder / ".. .. up.ipynb"
    path.write_text(LESSON.replace('"Slack water"', '"../../up"'), encoding="utf-8")
    (one,) = outcomes([path], tmp_path / "out")
    assert one.folder.parent == tmp_path / "out"
    assert {entry.name for entry in tmp_path.iterdir()} <= {"lessons", "out", "cache"}


def test_processes_and_one_process_give_the_same_bytes(tmp_path: Path) -> None:
    paths = lessons(tmp_path / "lessons", 2)
    for jobs, name in ((1, "one"), (2, "two")):
        assert not any(one.error for one in outcomes(paths, tmp_path / name, jobs=jobs))
    assert content(tmp_path / "one") == content(tmp_path / "two")


def test_workers_follow_their_caller(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A server of workers that was started elsewhere: paths are relative to here, and records go to this cache."""
    for name in ("here", "there"):
        lessons(tmp_path / name, 2)
        monkeypatch.chdir(tmp_path / name)
        monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / name / "cache"))
        paths = [Path("lesson-0.ipynb"), Path("lesson-1.ipynb")]
        first, again = (outcomes(paths, Path("out"), jobs=2) for _ in range(2))
        assert not any(one.error or one.unchanged for one in first)
        assert all(one.unchanged for one in again)
        assert len(list((tmp_path / name / "cache").rglob("*.json"))) == 2


def _until_a_pack(out: Path, process: subprocess.Popen[bytes]) -> float:
    """When the first pack stood there, or the build ended."""
    while process.poll() is None and not any(out.glob("[!.]*/*")):
        time.sleep(0.01)
    return time.monotonic()


def test_killed_at_any_moment(tmp_path: Path) -> None:
    """SIGKILL to the whole group at moments drawn from a seed: every file there is whole, the next build completes.

    Twice, two lessons; fifty times, forty of them, with VAMPBOOK_EXPLORE=1.
    """
    if not hasattr(os, "killpg"):
        pytest.skip("no process groups on this system")
    folder, out = tmp_path / "lessons", tmp_path / "out"
    many = bool(os.environ.get("VAMPBOOK_EXPLORE"))
    paths = lessons(folder, 40 if many else 2)
    command = [sys.executable, "-c", "from workbook.cli import main; main()", "build", "--no-run", "--minutes",
               str(BRIEF.minutes), "--out", str(out), str(folder)]
    assert not any(one.error for one in outcomes(paths, tmp_path / "right"))
    right = content(tmp_path / "right")
    chance = Random(5)
    seen, first = 0, 0.0
    for _ in range(50 if many else 2):
        shutil.rmtree(out, ignore_errors=True)
        start = time.monotonic()
        process = subprocess.Popen(command, cwd=ROOT, start_new_session=True, stdout=subprocess.DEVNULL,
                                   stderr=subprocess.DEVNULL)
        if first:
            time.sleep(first * chance.uniform(0.3, 4 if many else 1.3))
        else:  # once for certain with a pack there and others to come
            first = _until_a_pack(out, process) - start
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        for path in out.glob("[!.]*/*") if out.exists() else ():
            seen += 1
            assert path.read_bytes() == right[str(path.relative_to(out))], path
    assert seen, "at least one build was killed with packs written"
    assert not any(one.error for one in outcomes(paths, out))
    packs = {name: data for name, data in content(out).items() if not name.startswith(".")}
    assert packs == right


def test_the_record_is_no_part_of_a_pack(tmp_path: Path) -> None:
    paths, out = lessons(tmp_path / "lessons", 1), tmp_path / "out"
    built(paths, out)
    (record,) = (tmp_path / "cache").rglob("*.json")
    data = json.loads(record.read_text(encoding="utf-8"))
    assert set(data["files"]) == {path.name for path in (out / "lesson-0").iterdir()}
    assert str(tmp_path) not in record.read_text(encoding="utf-8")
