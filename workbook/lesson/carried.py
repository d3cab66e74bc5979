"""Lessons of the kit's first form carried over: their choices, which stood in several cells, put into one.

Then the chart held the changes, a cell of parameters tuning and position, and code named chords and frets. A cell that
is still as the kit wrote it then is marked as the kit's, so that a refresh writes it as it is written now; any other is
the teacher's and stays.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import replace
from random import Random
from typing import Any

from theorylib.changes.charts import Chart
from theorylib.errors import VampError
from theorylib.levels import LEVELS
from theorylib.necks.tunings import Tuning
from theorylib.practice.outline import FITTING, planned

from .choices import PARAMETERS, names_set, parsed
from .chosen import ALL_NAMES, Choices, parameters_code
from .code import without
from .derived import best_position, with_key
from .first_words import aims_then, words_then, written_then
from .kinds import SOLO_MINUTES
from .lesson import Lesson
from .opening import KIT
from .saved import Cell
from .sections import Plan, plan_of
from .written import as_written, digest_of, maker_of, parts

# A cell that only one kind of lesson has.
_TELLING = {"run": "rock", "taps": "modern", "bend-drill": "blues"}
_RENAMED = {"bends-words": "bend-drill-words", "neck-1": "neck"}
_TEXT = r'"(?:[^"\\\n]|\\.)*"'
# The code of a cell as the first form wrote it.
_CODE = {name: re.compile(pattern, re.DOTALL) for name, pattern in {
    "kit": re.escape(KIT),
    "harmony": r"read = harmony\(chart\)\nread",
    "moves": r"moves\(read\)",
    "plan": r"(drill|line|run|taps)\.plan\(\)",
    "changes": r'chart = Chart\.parse\("""\n.*\n"""\)\nchart',
    "drill": r"drill = arpeggio_drill\(chart, position, tuning=tuning(, per_chord=\d+)?(, passes=\d+)?\)\n"
             r"drill\.score\(\)",
    "targets": rf"area = targets\({_TEXT}, {_TEXT}, \d+, tuning\)\nplot_neck\(area, over={_TEXT}, tuning=tuning\)",
    "steps": rf"target_steps\(area, {_TEXT}, {_TEXT}, tuning\)",
    "bend-drill": rf"up = as_drill\(bend_drill\({_TEXT}, {_TEXT}\.split\(\), \d+, tuning=tuning\)\)\nup\.score\(\)",
    "aim": r'line = as_drill\(approach_targets\(chart, "both", position, tuning=tuning\)\)\nline\.score\(\)',
    "ladder": rf"steps = as_drill\(subdivision_ladder\(Scale\.parse\({_TEXT}\), position, \(1, 2, 3, 4\), chart=chart, "
              r"tuning=tuning\)\)\nsteps\.score\(\)",
    "run": rf'run = as_drill\(with_strokes\(sequence\({_TEXT}, "groups of 4", position, a_string=3, '
           r'length_beats="1/4", chart=chart, tuning=tuning\), "alternate", Fraction\(1, 4\)\)\)\nrun\.score\(\)',
    "burst": rf"burst = as_drill\(bursts\(Scale\.parse\({_TEXT}\), position, chart=chart, tuning=tuning\)\)\n"
             r"burst\.score\(\)",
    "guides": r"guides = as_drill\(guide_tone_line\(chart, position, tuning=tuning\)\)\nguides\.score\(\)",
    "vibrato": r'held = as_drill\(held_vibrato\(chart, "2", "3", position, tuning=tuning\)\)\nheld\.score\(\)',
    "taps": r"taps = as_drill\(tapped_arpeggio\(chart, position=position, tuning=tuning\)\)\ntaps\.score\(\)",
    "colours": rf"other_colours\({_TEXT}, key={_TEXT}(, next_chord={_TEXT})?(, scale={_TEXT})?\)",
    "targets-bends": r"bends\(area\)",
    "colours-neck": rf"plot_neck\({_TEXT}, over={_TEXT}, position=position, tuning=tuning\)",
}.items()}
_NECK = re.compile(rf"plot_neck\({_TEXT}, over={_TEXT}, position=position, tuning=tuning\)")
def carried(lesson: Lesson) -> Lesson | None:
    """The lesson with one cell of choices, what the kit wrote marked; None where it is none of the first form."""
    number = next((cell.number for cell in lesson.cells if cell.is_code and PARAMETERS in cell.tags), 0)
    chart = _chart_of(lesson)
    if chart is None or not {"tuning", "position"} & set(lesson.parameters):
        return None
    found = _choices_of(lesson, chart)
    if found is None:
        return None
    stated, choices, plan = found
    cells = [new for cell in lesson.cells for new in _carried(cell, plan)]
    own = [cell for cell in cells if cell.is_code and not maker_of(cell) and cell.number != number]
    if choices.position == _chosen(plan) and not any(_uses_position(cell.source) for cell in own):
        choices = replace(choices, position=None)
    cells = [cell.with_source(_parameters(cell.source, stated, choices)) if cell.number == number else cell
             for cell in cells]
    said = list(lesson.about.aims)
    ours = digest_of(said) if said == aims_then(plan) else ""
    known = [part.by for part in parts(plan) if part.by in written_then(plan)]
    return lesson.with_cells(cells).with_about(written={"parts": known, "aims": ours})


# -- the choices -------------------------------------------------------------------------------------------------------
def _chart_of(lesson: Lesson) -> Chart | None:
    """The chart that the code of a lesson writes out, as `chart = Chart.parse("…")`."""
    for cell in lesson.cells:
        for node in parsed(cell.source).body if cell.is_code else ():
            if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "chart" \
                    and isinstance(node.value, ast.Call) and ast.unparse(node.value.func) == "Chart.parse":
                try:
                    return Chart.parse(*map(ast.literal_eval, node.value.args))
                except (VampError, ValueError, TypeError):
                    return None
    return None


def _choices_of(lesson: Lesson, chart: Chart) -> tuple[Chart, Choices, Plan] | None:
    """The chart as its choices state it, the choices, and the plan of them."""
    ids = {cell.id for cell in lesson.cells}
    drill = next((cell.source for cell in lesson.cells if cell.id == "drill"), "")
    counts = {name: int(count) for name, count in re.findall(r"(per_chord|passes)=(\d{1,3})", drill)}
    unsaid = replace(chart, key=None)
    stated = unsaid if with_key(unsaid) == with_key(chart) else chart
    about, position = lesson.about, lesson.choices.get("position")
    values: dict[str, Any] = {
        "level": about.level if about.level in LEVELS else LEVELS[1], "substitutes": "colours-words" in ids,
        "minutes": int(about.minutes) if about.minutes.isdecimal() else 30, "passes": counts.get("passes", 1),
        "kind": next((kind for name, kind in _TELLING.items() if name in ids), "groove"),
        "position": position if type(position) is int else None,
    }
    try:
        tuning = Tuning.parse(str(lesson.choices.get("tuning", "standard")))
        tries = [counts["per_chord"]] if "per_chord" in counts else [8] if drill else [8, *range(1, 17)]
        plans = [plan_of(stated, Choices(lesson.title, tuning=tuning, per_chord=count, **values)) for count in tries]
    except VampError:
        return None
    said = list(about.aims)  # a lesson without the drill says its number of notes in its aims alone
    plan = next((one for one in plans if aims_then(one) == said), plans[0])
    return stated, plan.choices, plan


def _chosen(plan: Plan) -> int | None:
    try:
        return best_position(plan.chart, plan.choices.kind, tuning=plan.choices.tuning,
                             per_chord=plan.choices.per_chord)
    except VampError:
        return None


def _uses_position(source: str) -> bool:
    return any(isinstance(node, ast.Name) and node.id == "position" for node in ast.walk(parsed(source)))


def _parameters(source: str, chart: Chart, choices: Choices) -> str:
    """The cell of choices, with what else the teacher's own cell set after it."""
    rest = without(source, ALL_NAMES) if names_set(source) else ""
    return parameters_code(chart, choices) + (f"\n{rest}" if rest else "")


# -- the cells ---------------------------------------------------------------------------------------------------------
def _carried(cell: Cell, plan: Plan) -> Iterator[Cell]:
    """The cell, marked and called as now if it is the kit's; nothing for a neck diagram that another cell now draws."""
    by = _RENAMED.get(cell.id, cell.id)
    if cell.id.startswith("neck-") and _NECK.fullmatch(cell.source):
        if cell.id == "neck-1":
            yield as_written(cell, by)
        return
    yield as_written(cell, by) if _is_kits(cell, by, plan) else cell


def _limit_then(chance: Random, used: list[str], height: int) -> str:
    """The limit of a phrase as the first form drew it: any that was not used within three phrases."""
    return chance.choice([limit for limit in FITTING[height] if limit not in used[-3:]])


def _first_outline(chart: Chart) -> str:
    """The outline of a solo as the first form wrote it: its last note over the last chord, and no beginning."""
    phrases, chance = planned(chart, SOLO_MINUTES, None, 1, _limit_then)
    chords = [event.chord for event in chart.events_in(phrases[-1].last - 1)]
    stable = [degree for degree in ("1", "3", "b3", "5") if degree in chords[-1].degrees] or ["1"]
    middle = chart.meter.pulses // 2 + 1
    if len(chords) > 1:
        beat = middle
    else:
        beat = chance.choice([1, middle]) if chart.meter.pulses % 2 == 0 else 1
    ending = f"ending: {chance.choice(stable)} on beat {beat} of bar {phrases[-1].last}"
    return "\n".join([*map(str, phrases), ending])


def _is_kits(cell: Cell, by: str, plan: Plan) -> bool:
    """Is a cell as the first form wrote it? One that a lesson of today has no place for is the kit's all the same."""
    if cell.is_text:
        return cell.source in words_then(plan, by)
    if by == "solo":
        return cell.source == f'outline_sheet("""\n{_first_outline(plan.chart)}\n""", chart)'
    pattern = _CODE.get(by)
    return cell.is_code and pattern is not None and bool(pattern.fullmatch(cell.source))
