"""The commands about this machine: what it lacks (`doctor`), what is remembered (`cache`), completion in a shell."""

from __future__ import annotations

import os
import sys
from dataclasses import asdict
from pathlib import Path

import click

from theorylib.errors import one_of

from ..files import FileError, cache_folder, write_new
from .options import quiet
from .reports import json_option, silent, tell_json
from .terminal import say, say_next, say_unless

_SHELLS = {"bash": "~/.local/share/bash-completion/completions/vampbook",
           "fish": "~/.config/fish/completions/vampbook.fish", "zsh": "~/.zfunc/_vampbook"}


@click.command()
@json_option
@quiet
def doctor(json_file: Path | None, quiet: bool) -> None:
    """Say what this machine lacks: libraries, renderer, fonts, memory, cache, JupyterLab; exit status 1 if a pack does.

    \b
    Example:
      vampbook doctor
    """
    from .machine import examined

    quiet = silent(quiet, json_file)
    found = examined()
    for one in found:
        word = "ok   " if one.is_well else "LACKS" if one.is_needed else "lacks"
        line = f"{word} {one.what}: {one.found}" + (f"; {one.mend}" if one.mend and not one.is_well else "")
        say_unless(quiet, line)
    tell_json(json_file, {"machine": [asdict(one) for one in found]})
    if any(one.is_needed and not one.is_well for one in found):
        sys.exit(1)


@click.command()
@click.option("--clear", is_flag=True, help="Remove what is remembered; nothing else that lies there is touched.")
@json_option
@quiet
def cache(clear: bool, json_file: Path | None, quiet: bool) -> None:
    """Say where builds are remembered and how much that takes; all of it can be made again.

    The folder of the environment variable VAMPBOOK_CACHE, or else the user's own for caches.

    \b
    Example:
      vampbook cache --clear
    """
    from ..library.remembered import cleared, remembered_files

    files = remembered_files()
    size = sum(one.stat().st_size for one in files)
    left = cleared(files) if clear else []
    quiet = silent(quiet, json_file)
    what = f"{len(files)} file{'' if len(files) == 1 else 's'}, {size / 1e6:.1f} MB"
    say_unless(quiet, f"{cache_folder()}  {what}" + (" removed" if clear else ""))
    for path in left:
        say(f"vampbook: {path} could not be removed", err=True)
    tell_json(json_file, {"machine": [{"what": "cache", "folder": str(cache_folder()), "files": len(files),
                                       "bytes": size, "cleared": clear}]})
    if left:
        sys.exit(1)


@click.command()
@click.argument("shell", required=False)
@click.option("--install", is_flag=True, help="Write the script where the shell looks for it.")
@quiet
def completion(shell: str | None, install: bool, quiet: bool) -> None:
    """Complete commands, options, feels, tunings, keys and lessons with the Tab key, in bash, zsh or fish.

    \b
    Example:
      vampbook completion --install
    """
    from click.shell_completion import get_completion_class

    name = one_of(shell or Path(os.environ.get("SHELL", "bash")).name, _SHELLS, "shell that is completed", FileError)
    kind = get_completion_class(name)
    group = click.get_current_context().find_root().command
    if kind is None:
        raise FileError(f"nothing completes {name} here", value=name, expected=", ".join(_SHELLS))
    script = kind(group, {}, "vampbook", "_VAMPBOOK_COMPLETE").source()
    if not install:
        click.echo(script)
        return
    place = Path(_SHELLS[name]).expanduser()
    if place.exists() and place.read_text(encoding="utf-8", errors="replace") != script:
        raise FileError(f"{place} holds something else", value=str(place), expected="that file gone, or moved away")
    if not place.exists():
        write_new(place, script)
    say_unless(quiet, str(place))
    say_next(quiet, "put “fpath+=~/.zfunc; autoload -Uz compinit; compinit” into ~/.zshrc and open a new terminal"
             if name == "zsh" else "open a new terminal, type vampbook and press Tab")
