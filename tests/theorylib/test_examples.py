"""The examples in theorylib's docstrings, run as they stand there."""

from __future__ import annotations

import doctest
from importlib import import_module
from pathlib import Path

import pytest

import theorylib

ROOT = Path(theorylib.__file__).parent
MODULES = sorted(".".join(("theorylib", *path.relative_to(ROOT).with_suffix("").parts)) for path in ROOT.rglob("*.py")
                 if ">>> " in path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_of(name: str) -> None:
    done = doctest.testmod(import_module(name))
    assert done.attempted > 0
    assert done.failed == 0
