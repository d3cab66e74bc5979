"""The media types under which our values travel in a notebook's outputs, beside the picture that people see."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any
from urllib.parse import unquote

SVG_MIME, HTML_MIME = "image/svg+xml", "text/html"
LINE_MIME = "application/vnd.vampbook.line+json"
SOUND_MIME = "application/vnd.vampbook.sound+json"
CHART_MIME = "text/vnd.vampbook.chart"
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


def _joined(text: Any) -> str:
    return text if isinstance(text, str) else "".join(text)
