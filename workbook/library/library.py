"""Building many packs: only what changed, side by side, and one that fails never stops the rest.

For each pack the user's cache folder keeps a digest of all that it was made from, what the lesson took from elsewhere
when it ran (reads.py), and size and time of the pack's own files. A pack is left as it is only while all hold: a change
of program, library, option, lesson, file beside it, or of a file, folder or variable that it reads, rebuilds.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from theorylib.errors import VampError

from ..files import folded
from ..running.workers import Lost, each
from .mark import PackError
from .orders import How, Order, Outcome
from .records import digest, standing
from .stamps import beside_of

_Due = tuple[Order, How, str]  # the last: the digest to remember
BUILD = "workbook.library.making:build_one"  # by its name: what it needs is loaded where it works
BUILD_SECONDS = 300.0  # to read and to move one lesson, beside the time that it may run


def build_library(orders: Sequence[Order], how: How, *, jobs: int | None = None, force: bool = False,
                  cluster: str = "") -> Iterator[Outcome]:
    """Build the packs, as they get done; two orders for one folder are refused.

    In `jobs` processes of this machine (None: one a core), or by the workers of a dask scheduler at `cluster`.
    """
    due: list[_Due] = []
    for found in _looked_through(orders, how, force):
        if isinstance(found, Outcome):
            yield found
        else:
            due.append(found)
    if cluster and due:
        from .cluster import build_on_cluster  # an extra: only those who have many machines install dask

        yield from build_on_cluster(cluster, due)
        return
    for index, result in each(BUILD, due, jobs, how.bounds.seconds + BUILD_SECONDS):
        order = due[index][0]
        lost = isinstance(result, Lost)
        yield Outcome(order.path, order.folder, error=f"{order.path}: {result.why}") if lost else result


def _looked_through(orders: Sequence[Order], how: How, force: bool) -> Iterator[Outcome | _Due]:
    """What becomes of each order: it is refused, its pack still stands, or it is due."""
    places: dict[str, list[Order]] = {}
    for order in orders:
        places.setdefault(folded(str(order.folder)), []).append(order)
    homes = {order.path.parent for order in orders}
    beside = {folder: beside_of(folder) for folder in homes} if how.run else {}
    for order in (order for same in places.values() for order in same):
        refused = _why_refused(order, places[folded(str(order.folder))], homes)
        if refused:
            yield Outcome(order.path, order.folder, error=refused)
            continue
        made = digest(order, how, beside.get(order.path.parent))
        files = () if force else standing(order.folder, made, how.keep)
        yield Outcome(order.path, order.folder, files, unchanged=True) if files else (order, how, made)


def _why_refused(order: Order, same: Sequence[Order], homes: Iterable[Path]) -> str:
    """Why no pack can be made of an order, among those for the same folder; empty where one can."""
    if order.refused:
        return order.refused
    try:
        refuse_home(order.folder, homes)
    except VampError as error:
        return f"{order.path}: {error}"
    if len(same) > 1:
        return f"{order.path}: lessons of one name share a pack: {', '.join(str(one.path) for one in same)}"
    return ""


def refuse_home(folder: Path, homes: Iterable[Path]) -> None:
    """Raise PackError for a pack that would lie where lessons lie: what is built beside them would count as theirs."""
    if any(folder.is_dir() and home.is_dir() and folder.samefile(home) for home in homes):
        raise PackError(f"its pack would lie in {folder}, where lessons lie", value=str(folder),
                        expected="another folder with --out, or another name")
