"""The panel in which a person confirms what was heard of a recording: tempo, bar lines, chords, sections.

What is confirmed is kept as a text beside the recording (`groove.grid.txt`), from which the panel begins again, and
which `hear(..., chart=…)` and a lesson over the recording read. The browser plays the recording with a click on the
grid; every step is asked here, and answered with all that stands.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from html import escape
from pathlib import Path
from threading import Thread
from typing import Any

import anywidget
import traitlets

from theorylib.errors import VampError, as_text

from ..browser.bundle import module
from ..files import keep_beside, read_text, write_new, write_whole
from ..listen.confirming import Confirming, confirming
from ..listen.hearing import listen_to
from ..listen.recording import EXPECTED, ListenError, read_recording
from ..media.grid_text import grid_path
from ..mimes import HTML_MIME
from ..play.own_recording import packed
from ..recorded.recordings import HeardRecording

_FOLDER = Path(__file__).parent
_METERS = ("4/4", "3/4", "2/4", "6/8", "12/8", "5/4", "7/8")
_MOST_UNDONE = 50


class Confirmer(anywidget.AnyWidget):
    """The panel over one recording. `text` is what would be kept now; `path` where."""

    _esm = module(_FOLDER / "confirmer" / "confirmer.js")
    _css = "".join((_FOLDER / name).read_text(encoding="utf-8")
                   for name in ("explorer/explorer.css", "confirmer/confirmer.css"))

    stands: Any = traitlets.Dict().tag(sync=True)
    mount = traitlets.Unicode().tag(sync=True)

    def __init__(self, track: Path | str) -> None:
        self.track = track if isinstance(track, Path) else Path(as_text(track, "recording", EXPECTED, ListenError))
        self.path = grid_path(self.track)
        kept = read_text(self.path) if self.path.is_file() else ""
        self._now: Confirming = confirming(listen_to(read_recording(self.track)), kept)
        self._before: list[Confirming] = []
        self._saved = kept == self._now.text
        digest = hashlib.sha256(str(self.track).encode()).hexdigest()[:12]
        super().__init__(stands=self._told(), mount=f"vbc-{digest}")
        self.on_msg(self._asked)

    @property
    def text(self) -> str:
        return self._now.text

    # -- questions of the browser ------------------------------------------------------------------------------------
    def _asked(self, _: object, content: Mapping[str, Any], buffers: object) -> None:
        ask, number = str(content.get("ask")), content.get("number")
        if ask == "sound":
            Thread(target=self._send_sound, args=(number,), daemon=True).start()
            return
        try:
            answer: dict[str, Any] = {"told": self._done(ask, content)}
        except VampError as error:
            answer = {"problem": {"says": str(error), "value": "", "nearest": list(error.nearest)}}
        except (KeyError, TypeError, ValueError, OSError) as error:
            answer = {"problem": {"says": f"That cannot be done: {type(error).__name__} {error}", "value": "",
                                  "nearest": []}}
        self.send({"number": number, **answer})

    def _done(self, ask: str, content: Mapping[str, Any]) -> dict[str, Any]:
        if ask == "save":
            self._save()
        elif ask == "undo":
            self._now = self._before.pop() if self._before else self._now
            self._saved = False
        else:
            following = self._steps()[ask](content)
            self._before = [*self._before, self._now][-_MOST_UNDONE:]
            self._now, self._saved = following, False
        self.stands = self._told()
        return dict(self.stands)

    def _steps(self) -> Mapping[str, Callable[[Mapping[str, Any]], Confirming]]:
        now = self._now
        return {
            "tempo": lambda asked: now.at_tempo(float(asked["tempo"])),
            "meter": lambda asked: now.in_meter(str(asked["meter"])),
            "key": lambda asked: now.in_key(str(asked["key"])),
            "first": lambda asked: now.first_at(float(asked["seconds"])),
            "shift": lambda asked: now.shifted(float(asked["seconds"])),
            "drag": lambda asked: now.dragged(int(asked["line"]), float(asked["seconds"])),
            "chord": lambda asked: now.picked(int(asked["bar"]), float(asked["share"]), str(asked["chord"])),
            "right": lambda asked: now.confirmed(int(asked["bar"])),
            "section": lambda asked: now.sectioned(int(asked["bar"]), str(asked["name"])),
        }

    def _save(self) -> None:
        """Write the text beside the recording; another that was there stays as x.grid.txt.1."""
        if not self.path.exists():
            write_new(self.path, self.text)
        elif read_text(self.path) != self.text:
            keep_beside(self.path)
            write_whole(self.path, self.text)
        self._saved = True

    def _send_sound(self, number: object) -> None:
        try:
            made = packed(self.track)
        except (VampError, OSError, MemoryError) as error:
            self.send({"number": number, "problem": {"says": str(error), "value": "", "nearest": []}})
            return
        self.send({"number": number, "told": {"seconds": made.seconds, "gain": made.gain}}, buffers=[made.mp3])

    # -- what stands -------------------------------------------------------------------------------------------------
    def _told(self) -> dict[str, Any]:
        now, heard = self._now, self._now.heard
        chart = now.chart
        return {
            "name": self.track.name, "file": self.path.name, "seconds": round(heard.recording.seconds, 3),
            "tempo": round(heard.tempo, 1), "rivals": [round(one, 1) for one in heard.grid.rivals],
            "meter": str(heard.meter), "meters": list(dict.fromkeys((str(heard.meter), *_METERS))),
            "pulses": heard.grid.pulses, "key": str(heard.keys[0]) if heard.keys else "",
            "keys": [str(key) for key in heard.keys], "bars": [round(edge, 4) for edge in now.edges],
            "form": heard.chart.form_bars, "chords": [_chord(now, one) for one in now.chords],
            "sections": [bar.section or "" for bar in chart.bars], "unsure": len(now.unsure),
            "notes": list(heard.notes), "saved": self._saved, "undo": len(self._before),
        }

    def _ipython_display_(self) -> None:
        from IPython.display import display

        heard = HeardRecording(self._now.heard)
        plain = f'<pre class="vbx-text">{escape(self.text)}</pre>'
        display({HTML_MIME: f'<div class="vbx-place {self.mount}"></div>', "text/plain": self.text}, raw=True)
        display({HTML_MIME: f'<div class="vbx-still">{heard.picture().image_tag()}{plain}</div>',
                 "text/plain": "\n".join(heard.summary())}, raw=True)


def _chord(now: Confirming, one: Any) -> dict[str, Any]:
    chosen = now.chord_at(one)
    offers = dict.fromkeys((one.chord, *one.rivals))
    return {"bar": one.bar, "share": one.share, "chord": str(chosen), "shown": chosen.pretty,
            "offers": [[str(offer), offer.pretty] for offer in offers][:3], "sure": now.is_sure(one),
            "percent": round(100 * one.confidence), "given": one.given}
