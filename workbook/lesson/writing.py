"""Writing a new lesson from changes: its cells, its words, and what it says of itself.

A lesson is an ordinary notebook (nbformat 4.5). Its metadata carry a `vampbook` entry (title, level, minutes, tempo,
key, aims); its cells have stable ids, so that a lesson written twice from the same choices is the same bytes.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from theorylib.changes.charts import Chart

from .cells import code_cell
from .choices import PARAMETERS
from .chosen import Choices, parameters_code
from .sections import one_line, plan_of
from .written import about, cell_of, marks, parts

CHOICES = "choices"  # the id of the cell that holds them
AFTER = "kit"        # the cell that it follows


def new_lesson(chart: Chart, choices: Choices) -> dict[str, Any]:
    """A notebook that reads as a lesson on the chart: prose from the analysis, short code cells, nothing run yet.

    Raises the drill's or the fingering's own error where the drill cannot be played as chosen, and LessonError for a
    name that cannot be printed.
    """
    chart = replace(chart, title=one_line(chart.title, "the title"))
    choices = replace(choices, title=one_line(choices.title, "the title"))
    plan = plan_of(chart, choices, held=True)
    cells, written = [], parts(plan)
    for part in written:
        cells.append(dict(cell_of(part).raw))
        if part.by == AFTER:
            cells.append(code_cell(CHOICES, parameters_code(chart, choices), PARAMETERS))
    return {
        "cells": cells,
        "metadata": {
            "kernelspec": {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"},
            "language_info": {"name": "python"},
            "vampbook": {**about(plan), "written": marks(plan, (part.by for part in written))},
        },
        "nbformat": 4, "nbformat_minor": 5,
    }
