"""The media types under which our values travel in a notebook's outputs, beside the picture that people see."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any
from urllib.parse import unquote

SVG_MIME, HTML_MIME = "image/svg+xml", "text/html"
PHOTO_MIMES = ("image/png", "image/jpeg", "image/webp", "image/gif")  # of pictures in pixels that Jupyter shows
LINE_MIME = "application/vnd.vampbook.line+json"
SOUND_MIME = "application/vnd.vampbook.sound+json"
BACKING_MIME = "application/vnd.vampbook.backing+json"
CHART_MIME = "text/vnd.vampbook.chart"
EAR_MIME = "application/vnd.vampbook.ear+json"
OUTLINE_MIME = "text/vnd.vampbook.outline"
_ONLY_COPY = re.compile(rf"<img [^>]*src='data:{re.escape(SVG_MIME)},([^']*)'")


def stored_svg(output: Mapping[str, Any]) -> str:
    """The drawing of an output: by itself, or the only copy of a large one, in its <img>; empty without one."""
    data = output.get("data", {})
    if SVG_MIME in data:
        return _joined(data[SVG_MIME])
    if SVG_MIME not in output.get("metadata", {}):  # someone else's <img>: no drawing that says what it shows
        return ""
    only = _ONLY_COPY.search(_joined(data.get(HTML_MIME, "")))
    return unquote(only[1]) if only else ""


def stored_text(data: Mapping[str, Any], mime: str) -> str | None:
    """A value of an output's data as text, whatever form Jupyter keeps it in; None where there is none."""
    stored = data.get(mime)
    if stored is None:
        return None
    return _joined(stored) if isinstance(stored, str | list) else json.dumps(stored)


def _joined(text: Any) -> str:
    return text if isinstance(text, str) else "".join(text)
