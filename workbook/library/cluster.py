"""Building packs on many machines, by the workers of a dask scheduler; they need no disk in common with this one.

A lesson travels as bytes with the files of its folder, and its pack comes back as bytes: the same as if made here,
since every worker must run the same version of this kit and of the libraries it builds with. A worker makes one pack
at a time, however many threads it has: for whom a pack is made is a matter of the process.
"""

from __future__ import annotations

import os
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import Any

from theorylib.errors import VampError

from ..files import read_bytes
from ..media.beside import HEARD, SHOWN
from ..media.grid_text import grid_path
from ..running.reads import VARIABLE, parts
from .making import Made, make, put
from .orders import How, Order, Outcome
from .records import program

BESIDE_MB = 64    # of files beside a lesson, and in folders below, that travel with it; its own recording not counted
STAY = ("__pycache__", "build", "node_modules")  # folders that do not
AHEAD = 4         # lessons that wait at each worker
RETRIES = 2       # of a lesson whose worker died
_ASKED_FOR = (*SHOWN, *HEARD, ".grid.txt")  # endings of what a pack takes without a run
_one_at_a_time = threading.Lock()


class ClusterError(VampError):
    """A scheduler that cannot be reached, workers that run another version, or a lesson that is too big to travel."""


@dataclass(frozen=True, slots=True)
class Parcel:
    """A lesson on its way: its name, the files of its folder by path (itself included), how it is made, and when it
    was packed (nanoseconds since 1970)."""

    name: str
    files: dict[str, bytes]
    order: Order
    how: How
    soundfont: bytes | None
    version: str
    began_ns: int


def build_on_cluster(address: str, due: Sequence[tuple[Order, How, str]]) -> Iterator[Outcome]:
    """The outcomes of orders, each with how it is made and the digest to remember, as they get done.

    Raises ClusterError where the scheduler does not answer or dask is not installed.
    """
    try:
        from distributed import Client, as_completed
    except ImportError as error:
        raise ClusterError("dask is not installed", expected="pip install 'vampbook[cluster]'") from error
    try:
        client = Client(address, timeout="15s", set_as_default=False)
    except (OSError, ValueError) as error:
        raise ClusterError(f"no scheduler answers at {address}", value=address,
                           expected="the address that dask scheduler prints, such as tcp://10.0.0.5:8786") from error
    with client:
        waiting = iter(due)
        sent: dict[Any, tuple[Order, str]] = {}
        done = as_completed(loop=client.loop)

        def send(count: int) -> Iterator[Outcome]:
            for order, how, digest in islice(waiting, count):
                try:
                    parcel = packed(order, how)
                except (VampError, OSError) as error:
                    yield Outcome(order.path, order.folder, error=f"{order.path.name}: {error}")
                    continue
                future = client.submit(made_there, parcel, pure=False, retries=RETRIES)
                sent[future] = (order, digest)
                done.add(future)

        yield from send(AHEAD * max(1, len(client.scheduler_info(n_workers=-1)["workers"])))
        for future in done:
            order, digest = sent.pop(future)
            if future.status == "finished":
                yield put(order, future.result(), digest)
            else:
                yield Outcome(order.path, order.folder, error=f"{order.path.name}: {_why(future)}")
            future.release()
            yield from send(1)


def packed(order: Order, how: How) -> Parcel:
    """An order as it travels; raises ClusterError for a folder too big to send."""
    began_ns = time.time_ns()
    lesson = read_bytes(order.path)
    files = {order.path.name: lesson}
    room = BESIDE_MB * 1_000_000
    for name, path in _beside(order.path.parent):
        if not (how.run or name.lower().endswith(_ASKED_FOR)):
            continue  # only its text is read, which may show pictures and recordings
        is_track = name.lower().endswith(HEARD) and grid_path(path).is_file()
        if is_track and os.fsencode(path.name) not in lesson:
            continue  # over which other lessons are played
        room -= 0 if is_track else path.stat().st_size
        if room < 0:
            raise ClusterError(f"more than {BESIDE_MB} MB lie beside the lesson", value=str(order.path.parent),
                               expected="lessons in a folder without big files")
        files[name] = path.read_bytes()
    sound = how.options.get("sound")
    soundfont = None
    if sound is not None and sound.soundfont is not None:
        soundfont = sound.soundfont.read_bytes()
        how = replace(how, options={**how.options, "sound": replace(sound, soundfont=None)})
    here = replace(order, path=Path(order.path.name), folder=Path(order.folder.name))
    return Parcel(order.path.name, files, here, how, soundfont, program(), began_ns)


def _beside(folder: Path) -> Iterator[tuple[str, Path]]:
    """What a lesson could read in its folder and below, by path from there: all but notebooks and what is hidden."""
    for place, folders, names in os.walk(folder):
        folders[:] = sorted(name for name in folders if name not in STAY and not name.startswith("."))
        for path in (Path(place, name) for name in sorted(names)):
            if path.suffix != ".ipynb" and not path.name.startswith(".") and path.is_file():
                yield path.relative_to(folder).as_posix(), path


def made_there(parcel: Parcel) -> Made:
    """What a worker does: lay the files out in a folder of its own, and make the pack there."""
    if program() != parcel.version:
        return Made({}, {}, error=f"{parcel.name}: a worker runs another version of this kit or of its libraries")
    with _one_at_a_time, tempfile.TemporaryDirectory() as place:
        for name, data in parcel.files.items():
            (Path(place) / name).parent.mkdir(parents=True, exist_ok=True)
            (Path(place) / name).write_bytes(data)
        how = parcel.how
        if parcel.soundfont is not None:
            bank = Path(place) / ".soundfont.sf2"
            bank.write_bytes(parcel.soundfont)
            how = replace(how, options={**how.options, "sound": replace(how.options["sound"], soundfont=bank)})
        made = make(replace(parcel.order, path=Path(place) / parcel.name), how)
    # What it read elsewhere on this machine, and its variables, say nothing where the pack is wanted.
    here = tuple(one for one in made.reads if parts(one)[0] != VARIABLE and not os.path.isabs(parts(one)[1]))
    return replace(made, reads=here, began_ns=parcel.began_ns)


def _why(future: Any) -> str:
    error = future.exception()
    return f"its workers died ({type(error).__name__})" if type(error).__name__ == "KilledWorker" else str(error)
