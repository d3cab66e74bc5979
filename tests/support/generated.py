"""Lessons on charts drawn from a seed, run inside this process: clean, for the check to leave in peace."""

from __future__ import annotations

import sys
from random import Random
from typing import Any

from theorylib import Chart
from theorylib.levels import LEVELS
from workbook.lesson.chosen import Choices
from workbook.lesson.writing import new_lesson

LOOPS = ("Gm7 C9", "Am7 D7", "Cm7 Fm7 Dm7b5 G7#9", "Em C G D", "A7 D7 A7 E7",
         "Bbmaj7 Gm7 Cm7 F7", "F#m7 Bm7 C#7b9 F#m7", "Dm9 Bbmaj7/D Gm7 A7#9", "Ebmaj7 Cm9 Abmaj7 Bb13", "Bm7 E9")
FEELS = ("straight 8", "straight 16", "swing", "shuffle", "ballad", "half-time")


def generated(seed: int) -> dict[str, Any]:
    """A run notebook; the same for the same seed."""
    return run_here(unrun(seed))


def unrun(seed: int) -> dict[str, Any]:
    """The same before it is run."""
    chance = Random(seed)
    semitones = chance.randrange(12)
    chart = Chart.parse("| " + " | ".join(chance.choice(LOOPS).split()) + " |", tempo=str(chance.randrange(60, 118)),
                        feel=chance.choice(FEELS)).transpose(semitones)
    choices = Choices(f"Lesson {seed}", chance.choice(LEVELS), per_chord=8, passes=chance.choice((1, 2)),
                      substitutes=chance.random() < 0.3)
    return new_lesson(chart, choices)


def run_here(notebook: dict[str, Any]) -> dict[str, Any]:
    """Fill in each cell's output as a kernel would, in this process."""
    from IPython.core.interactiveshell import InteractiveShell

    from workbook.kit import register_displays

    main = sys.modules["__main__"]  # the shell puts a module of its own there, from which no process can be started
    try:
        shell = InteractiveShell.instance()
        shell.user_ns.clear()  # as shell.reset() does, which would look through all that lives in this process too
        shell.init_user_ns()
        register_displays()
        _run_cells(shell, notebook)
    finally:
        sys.modules["__main__"] = main
    return notebook


def _run_cells(shell: Any, notebook: dict[str, Any]) -> None:
    from IPython.utils.capture import capture_output

    count = 0
    for cell in notebook["cells"]:
        if cell["cell_type"] != "code":
            continue
        count += 1
        with capture_output():
            done = shell.run_cell("".join(cell["source"]))
        done.raise_error()
        cell["execution_count"] = count
        if done.result is not None:
            data, about = shell.display_formatter.format(done.result)
            cell["outputs"] = [{"output_type": "execute_result", "data": data, "metadata": about,
                                "execution_count": count}]
