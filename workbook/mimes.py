"""The media types under which our values travel in a notebook's outputs, beside the picture that people see."""

from __future__ import annotations

LINE_MIME = "application/vnd.vampbook.line+json"
SOUND_MIME = "application/vnd.vampbook.sound+json"
CHART_MIME = "text/vnd.vampbook.chart"
OUTLINE_MIME = "text/vnd.vampbook.outline"
