"""`python -m workbook` is the `vampbook` command, where its own folder is not on the path."""

from .cli import main

main(prog_name="vampbook")
