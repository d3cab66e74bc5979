"""What every lesson needs, loaded once: the server of forks imports this module, and nothing else does.

Typst is imported and never run here: once it has run, a fork of the process hangs.
"""

from __future__ import annotations

import importlib

# Markdown's patterns are compiled when they are first needed.
_EVERY_FORM = """# A

*a* **b** `c` [d](https://e.org)

- f

1. g

> h

```
i
```

| j |
|---|
| k |

---
"""
_SLOW = ("psutil", "typst", "workbook.checking.check", "workbook.library.library")


def _load() -> None:
    for name in _SLOW:
        importlib.import_module(name)
    from ..draw.engrave import toolkit
    from ..handouts.tree import markdown_blocks
    from ..play.sound import renderer_name, soundfont_bytes, soundfont_path
    from .shell import load

    load()
    toolkit()
    markdown_blocks(_EVERY_FORM)
    if renderer_name() == "SoundFont":
        importlib.import_module("midirenderer")
        soundfont_bytes(soundfont_path())


_load()
