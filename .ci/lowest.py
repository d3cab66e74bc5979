"""The lowest version of each direct dependency that pyproject.toml declares, as pip's constraints, one a line.

With names of extras as arguments their dependencies are told too.
"""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path

_DEPENDENCY = re.compile(
    r"^(?P<name>[\w.-]+)\s*(?:>=|==)\s*(?P<lowest>[\w.]+)(?:\s*,\s*<\s*[\w.]+)?\s*(?P<where>;.*)?$"
)


def lowest(project: Path, extras: list[str]) -> list[str]:
    """"name==version" of each dependency, its marker kept; raises ValueError for one without a lower bound."""
    declared = tomllib.loads(project.read_text(encoding="utf-8"))["project"]
    wanted = [*declared["dependencies"], *(one for extra in extras for one in declared["optional-dependencies"][extra])]
    found = []
    for text in wanted:
        match = _DEPENDENCY.match(text)
        if match is None:
            raise ValueError(f"{text!r} has no lower bound")
        found.append(f"{match['name']}=={match['lowest']} {match['where'] or ''}".strip())
    return found


if __name__ == "__main__":
    print("\n".join(lowest(Path(__file__).resolve().parents[1] / "pyproject.toml", sys.argv[1:])))
