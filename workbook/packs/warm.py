"""What every lesson needs, loaded once: the server of forks imports this module before it forks.

Typst is imported and never run here: once it has run, a fork of the process hangs.
"""

from __future__ import annotations

import matplotlib.figure
import mido
import psutil
import soundfile
import typst

from .. import kit
from ..draw.engrave import toolkit
from ..handouts.tree import markdown_blocks
from ..play import bank
from ..play.sound import renderer_name, soundfont_bytes, soundfont_path
from . import check, library, shell

LOADED = (matplotlib, mido, psutil, soundfile, typst, kit, bank, check, library, shell)
toolkit()
markdown_blocks("warm")
_path = soundfont_path()
if _path is not None and renderer_name() == "SoundFont":
    import midirenderer  # noqa: F401

    soundfont_bytes(_path)
