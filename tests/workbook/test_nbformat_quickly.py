"""nbformat without the parser that jsonschema would have built at its import; nothing else is another for it."""

from __future__ import annotations

import subprocess
import sys
from importlib.metadata import version
from importlib.util import find_spec

import pytest

TOLD = """
import sys
from importlib.util import find_spec
from workbook.running.nbformat_quickly import nbformat_quickly
nbformat = nbformat_quickly()
print("lark" in sys.modules, "rfc3987_syntax" in sys.modules, nbformat is nbformat_quickly())
nbformat.validate(nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell("1")]))
try:
    nbformat.validate(nbformat.v4.new_notebook(cells=[{"cell_type": "song"}]))
except nbformat.ValidationError:
    print("refused")
print(find_spec("rfc3987_syntax") is not None)
"""


@pytest.mark.skipif(find_spec("rfc3987_syntax") is None, reason="jsonschema has nothing to import here")
def test_nothing_is_parsed_and_whoever_needs_the_parser_has_it() -> None:
    done = subprocess.run([sys.executable, "-c", TOLD], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == ["False False True", "refused", "True"]


def test_a_server_of_jupyters_own_gets_its_own_words() -> None:
    command = [sys.executable, "-m", "workbook.lab.server", "nbconvert", "--version"]
    assert subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip() == version("nbconvert")
