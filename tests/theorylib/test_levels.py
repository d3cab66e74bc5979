"""One ladder of levels, which everybody who speaks of levels asks."""

from __future__ import annotations

from itertools import product

import pytest

from theorylib.levels import LEVELS, is_above
from workbook.cli import main
from workbook.handouts.course_page import _ordered
from workbook.library.personal import STEPS

LADDER = ("beginner", "intermediate", "advanced")  # common practice, no source


@pytest.mark.parametrize(("one", "other"), [*product((0, 1, 2), repeat=2)])
def test_which_is_above_which(one: int, other: int) -> None:
    assert is_above(LADDER[one], LADDER[other]) == (one > other)


@pytest.mark.parametrize("word", ["", "hard", None, 3, ["beginner"]])
def test_what_is_no_level_is_above_nothing(word: object) -> None:
    assert not is_above(word, "beginner")
    assert not is_above("advanced", word)


def test_everybody_has_the_same_levels() -> None:
    assert LEVELS == LADDER
    assert tuple(STEPS) == LADDER
    option = next(one for one in main.commands["new"].params if one.name == "level")
    assert tuple(option.type.choices) == LADDER
    assert _ordered(["advanced", "mine", "beginner", "intermediate"]) == [*LADDER, "mine"]
