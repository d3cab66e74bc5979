"""What an installation takes on the disk, by what it is for; run with the Python of the environment that is asked.

“With all” counts whatever a group brings along, “alone” what would go if only that group went. Compiled modules count
where the installer wrote them (pip does, an editable installation has none of its own).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from importlib.metadata import Distribution, distributions
from importlib.util import find_spec
from pathlib import Path

from packaging.requirements import Requirement

OURS = "vampbook"
GROUPS = {
    "JupyterLab and widgets": ("jupyterlab", "ipywidgets", "anywidget", "ipython"),
    "the page without code": ("voila",),
    "running and exporting": ("nbclient", "nbconvert", "nbformat"),
    "sound and listening": ("scipy", "numpy", "soundfile", "pyloudnorm", "midirenderer", "mido"),
    "print": ("typst", "mistune", "nh3", "tinycss2", "pillow"),
    "faces for every script": ("manimgx-fonts", "noto-cjk-sans-otc", "fonttools"),
    "plots": ("matplotlib",),
    "engraving": ("verovio",),
}


def plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def size_of(one: Distribution) -> int:
    files = [Path(str(one.locate_file(file))) for file in one.files or ()]
    if plain(one.metadata["Name"]) == OURS:
        files += own_files()
    return sum(path.stat().st_size for path in {file.resolve() for file in files} if path.is_file())


def own_files() -> list[Path]:
    """Our packages' files wherever they lie: an editable installation lists none of them."""
    found = [find_spec(name) for name in ("theorylib", "workbook")]
    folders = [Path(spec.origin).parent for spec in found if spec is not None and spec.origin]
    return [file for folder in folders for file in folder.rglob("*") if "__pycache__" not in file.parts]


def brought_by(names: Iterable[str], installed: dict[str, Distribution]) -> set[str]:
    found: set[str] = set()
    wanted = [plain(name) for name in names]
    while wanted:
        name = wanted.pop()
        if name in found or name not in installed:
            continue
        found.add(name)
        needs = map(Requirement, installed[name].requires or ())
        wanted += [plain(one.name) for one in needs if one.marker is None or one.marker.evaluate({"extra": ""})]
    return found


def main() -> None:
    installed = {plain(one.metadata["Name"]): one for one in distributions()}
    sizes = {name: size_of(one) / 1e6 for name, one in installed.items()}
    all_ours = brought_by([OURS], installed)
    print(f"{'vampbook with all':26}{sum(sizes[name] for name in all_ours):8.0f} MB, {len(all_ours)} packages")
    print(f"{'itself':26}{sizes[OURS]:8.0f} MB")
    brought = {group: brought_by(names, installed) for group, names in GROUPS.items()}
    for group, names in brought.items():
        others = set().union(*(rest for other, rest in brought.items() if other != group))
        alone = sum(sizes[name] for name in names - others)
        print(f"{group:26}{sum(sizes[name] for name in names):8.0f} MB with all, {alone:4.0f} MB alone")


if __name__ == "__main__":
    main()
