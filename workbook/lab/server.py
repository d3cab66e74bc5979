"""A server of Jupyter's, ready seconds sooner: `python -m workbook.lab.server jupyterlab …`, else `-m jupyterlab …`."""

from __future__ import annotations

import runpy
import sys

from ..running.nbformat_quickly import nbformat_quickly

if __name__ == "__main__":
    nbformat_quickly()
    del sys.argv[0]
    runpy.run_module(sys.argv[0], run_name="__main__", alter_sys=True)
