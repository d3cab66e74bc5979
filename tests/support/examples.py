"""How many examples a property test draws: few each run, always the same; many new ones with VAMPBOOK_EXPLORE=1."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

from hypothesis import settings

EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
MANY = 3000


def examples(few: int) -> Callable[[Any], Any]:
    return settings(max_examples=MANY if EXPLORE else few, deadline=None)
