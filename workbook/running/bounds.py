"""What a lesson may take while it runs."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a lesson may take: seconds in all, MB of memory beyond what it starts with, with all processes that it
    starts, MB of outputs. The making of its pack may take as much again."""

    seconds: float = 120
    memory_mb: int = 2048
    output_mb: int = 16


USUAL = Bounds()
