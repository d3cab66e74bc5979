"""The handouts as nbconvert exporters: they stand in JupyterLab's own export menu and in `jupyter nbconvert`.

Jupyter's server matches a format by `\\w+`, so that a name with a hyphen is never found.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from nbconvert.exporters.exporter import Exporter
from traitlets import Bool, Enum, default

from ..lesson.door import checked
from ..lesson.lesson import Lesson
from .page import lesson_page
from .pdf import PAPERS, handout_pdf


class HandoutExporter(Exporter):
    """A saved lesson as a tagged PDF: `jupyter nbconvert --to lesson_handout lesson.ipynb`."""

    export_from_notebook = "Lesson handout (PDF)"
    output_mimetype = "application/pdf"
    paper = Enum(list(PAPERS), default_value="a4", help="Paper of the handout.").tag(config=True)
    large_print = Bool(False, help="Set the handout in larger type.").tag(config=True)

    @default("file_extension")
    def _file_extension_default(self) -> str:
        return ".pdf"

    def from_notebook_node(self, nb: Any, resources: Any = None, **kw: Any) -> Any:
        nb, resources = super().from_notebook_node(nb, resources, **kw)
        resources["output_extension"] = ".pdf"
        return handout_pdf(_lesson(nb, resources), paper=self.paper, large_print=self.large_print), resources


class PageExporter(Exporter):
    """A saved lesson as one HTML file: `jupyter nbconvert --to practice_page lesson.ipynb`."""

    export_from_notebook = "Practice page (HTML)"
    output_mimetype = "text/html"

    @default("file_extension")
    def _file_extension_default(self) -> str:
        return ".html"

    def from_notebook_node(self, nb: Any, resources: Any = None, **kw: Any) -> Any:
        nb, resources = super().from_notebook_node(nb, resources, **kw)
        resources["output_extension"] = ".html"
        return lesson_page(_lesson(nb, resources)), resources


def _lesson(nb: Any, resources: Any) -> Lesson:
    """The notebook as a lesson in the folder that nbconvert tells, where its pictures lie."""
    about = resources.get("metadata", {})
    notebook, folder = checked(nb), about.get("path")
    if not folder:
        return Lesson.of(notebook)
    return Lesson.of(notebook, Path(folder, f"{about.get('name') or 'lesson'}.ipynb"))
