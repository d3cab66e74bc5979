"""The `vampbook` command: it reads arguments, calls the workbook and prints; nothing else imports it.

Exit status: 0 done, 1 something is wrong with a lesson or a file (one line says what and where), 2 wrong usage.
"""

from __future__ import annotations

import click

from .commands.building import build, course, personal
from .commands.checking import check, pair
from .commands.guiding import guide
from .commands.helping import cache, completion, doctor
from .commands.listening import hear, take
from .commands.shelf import phrases
from .commands.starting import start
from .commands.styles import styles
from .commands.terminal import Group
from .commands.watching import watch
from .commands.writing import new, refresh


@click.group(cls=Group, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="vampbook", prog_name="vampbook")
def main() -> None:
    """Changes in, checked lesson out: write, build and check guitar lessons.

    \b
    Example:
      vampbook start my-lessons
      vampbook new "Slack water" --changes "| Gm7 | C9 |" --tempo 92 --feel "straight 16"
      vampbook build lessons/slack-water.ipynb
      vampbook check lessons/
    """


for _command in (start, new, build, personal, course, check, watch, refresh, pair, phrases, styles, hear, take, guide,
                 doctor, cache, completion):
    main.add_command(_command)
