"""A mistake in a cell, told in one line: where, what is wrong, the nearest choice and an example; the traceback folded.

IPython's `set_custom_exc` is asked for, so that the error itself stays in the saved notebook, as nbclient and nbval
read it; beside it stands our line as a display, which Voilà shows too. The folded traceback names no path and no line
of a library, so that a saved notebook is the same on every machine; `%tb` shows the whole.
"""

from __future__ import annotations

import ast
import html
import inspect
import linecache
import re
import sys
import traceback
from collections.abc import Mapping
from contextlib import suppress
from types import TracebackType
from typing import Any

from theorylib.errors import VampError, closest
from theorylib.names.chords import as_chord

from ..legible import legible

_OURS = ("theorylib", "workbook")
# By Python's own words for a call that a function does not take.
_MISSING = re.compile(r"(?P<name>\w+)\(\) missing \d+ required \S+ arguments?: (?P<what>.+)")
_UNKNOWN = re.compile(r"(?P<name>\w+)\(\) got an unexpected keyword argument '(?P<what>\w+)'")
_TOO_MANY = re.compile(r"(?P<name>\w+)\(\) takes (?P<what>.+) positional arguments? but (?P<given>\d+) w\w+ given")
# What the kit took under other names once: a saved lesson that still says so is told how it is said now.
SAID_NOW = {
    ("phrase", "each"): 'rhythm="e"',
    ("phrase", "from_bar"): "over=from_bar(chart, 5)",
    ("phrase_from", "from_bar"): "over=from_bar(chart, 5)",
    **{("phrase_from", word): f'passage="{word} …"' for word in ("bars", "part", "staff", "voice", "octaves", "grid")},
    ("listen", "form"): 'listen(…).save("groove.wav")',
    ("arpeggio_drill", "title"): 'arpeggio_drill(…).titled("…")',
    ("score", "title"): 'as_drill(line).titled("…").score()',
    ("continuous_arpeggio", "lowest"): 'within=("A2", "E4")',
    ("continuous_arpeggio", "highest"): 'within=("A2", "E4")',
    ("continuous_scale", "key"): 'Chart.parse("…", key="…")',
    ("approach_targets", "key"): 'Chart.parse("…", key="…")',
    ("bend_drill", "tempo"): "bend_drill(…).at_tempo(60)",
    ("plot_neck", "frets"): "plot_neck(…).between(5, 9)",
    ("plot_neck", "labels"): 'plot_neck(…).labelled("names")',
    ("plot_neck", "caption"): 'plot_neck(…).captioned("…")',
    ("plot_neck", "bends"): "plot_neck(…).bent(1)",
    **{("plot_neck", word): f"plot_neck(…).turned({word}=True)" for word in ("left_handed", "vertical", "large_print")},
    ("phrase_from", "top"): 'passage="top"',
}
_BOX = ('<div role="alert" style="border-left: 4px solid #c62828; padding: 4px 12px">'
        '<div style="white-space: pre-wrap">{line}</div>{example}'
        "<details><summary>How it came to this</summary><pre>{frames}</pre></details></div>")


def tell_mistakes(names: Mapping[str, Any]) -> None:
    """Have the running notebook tell our own errors, and wrong uses of the kit's `names`, in our way.

    All other errors stay IPython's; outside a notebook it does nothing.
    """
    from IPython.core.getipython import get_ipython

    def told(shell: Any, kind: type[BaseException], error: BaseException, trace: TracebackType,
             tb_offset: int | None = None) -> None:
        words = words_of(error, names)
        if words:
            sys.last_type, sys.last_value, sys.last_traceback = kind, error, trace  # for %tb and %debug
            shell._showtraceback(kind, error, _told(shell, kind, words, trace, names))
        else:
            shell.showtraceback((kind, error, trace), tb_offset=tb_offset)

    running = get_ipython()
    if running is not None:
        running.set_custom_exc((VampError, NameError, TypeError, AttributeError), told)


def words_of(error: BaseException, names: Mapping[str, Any]) -> str:
    """What an error says, if it is ours or a wrong use of the kit; else nothing."""
    if isinstance(error, VampError):
        return str(error)
    if isinstance(error, NameError) and error.name:
        if _is_chord(error.name):
            return f"a chord stands between quotes: \"{error.name}\""
        near = closest(error.name, names)
        return f"there is no “{error.name}” here; did you mean {' or '.join(near)}?" if near else ""
    if isinstance(error, AttributeError):
        return _no_part(error)
    return _wrong_call(str(error), names)


def _is_chord(name: str) -> bool:
    try:
        return bool(as_chord(name))
    except VampError:
        return False


def _no_part(error: AttributeError) -> str:
    """A part that a value of ours does not have."""
    kind = error.obj if isinstance(error.obj, type) else type(error.obj)
    if not error.name or kind.__module__.split(".")[0] not in _OURS:
        return ""
    parts = [part for part in dir(kind) if not part.startswith("_")]
    near = closest(error.name, parts)
    meant = f"; did you mean {' or '.join(near)}?" if near else f"; it has {', '.join(parts)}"
    return f"a {kind.__name__} has no “{error.name}”{meant}"


def _wrong_call(message: str, names: Mapping[str, Any]) -> str:
    """A call of a kit function with too few things, too many, or one that it does not know."""
    for form in (_MISSING, _UNKNOWN, _TOO_MANY):
        match = form.search(message)
        function = names.get(match["name"]) if match else None
        if match is None or not callable(function):
            continue
        takes = list(inspect.signature(function).parameters)
        if form is _MISSING:
            return f"{match['name']} is not told its {match['what'].replace(chr(39), '')}"
        if form is _TOO_MANY:
            many = f"{match['name']} is given {match['given']} things"
            return f"{many}; give those after the first by their names: {', '.join(takes)}"
        now = SAID_NOW.get((match["name"], match["what"]))
        if now:
            return f"{match['name']} takes no “{match['what']}” any more; write {now}"
        near = closest(match["what"], takes)
        meant = f"did you mean {' or '.join(near)}?" if near else f"it takes {', '.join(takes)}"
        return f"{match['name']} takes no “{match['what']}”; {meant}"
    return ""


def _told(shell: Any, kind: type[BaseException], words: str, trace: TracebackType,
          names: Mapping[str, Any]) -> list[str]:
    """Shows the line; what remains for the error itself is the place in the cell."""
    frames = list(traceback.walk_tb(trace))
    own = [number for number, (frame, _) in enumerate(frames) if frame.f_globals is shell.user_global_ns]
    after = frames[own[-1] if own else 0:]
    frame, line = after[0]
    of_text = "in the text given, " if words.startswith("line ") else ""
    said = "\n".join(map(legible, f"Line {line} of this cell: {of_text}{words}".split("\n")))
    example = _example_of([one.f_code for one, _ in after], words, names)
    shown = f"<div>For example: <code>{html.escape(example)}</code></div>" if example else ""
    folded = "\n".join(_frame(one, at) for one, at in after)
    shell.display_pub.publish({
        "text/html": _BOX.format(line=html.escape(said), example=shown, frames=html.escape(folded)),
        "text/plain": said + (f"\nFor example: {example}" if example else "")}, {})
    code = linecache.getline(frame.f_code.co_filename, line).strip()
    return [f"Cell In[{shell.execution_count}], line {line}\n    {code}"]  # as IPython begins


def _frame(frame: Any, number: int) -> str:
    """One step of the way, as it is the same on every machine."""
    module = str(frame.f_globals.get("__name__", ""))
    if module == "__main__":
        return f"this cell, line {number}: {linecache.getline(frame.f_code.co_filename, number).strip()}"
    return f"{module}, in {frame.f_code.co_name}"


def _example_of(codes: list[Any], words: str, names: Mapping[str, Any]) -> str:
    """A call of the kit's function that went wrong, or that the words name, from the first example that it gives."""
    functions = {name: one for name, one in names.items() if inspect.isfunction(one)}
    called = [name for code in codes for name, one in functions.items() if one.__code__ is code]
    named = [word for word in re.findall(r"\w+", words) if word in functions]
    for name in (*called, *named):
        for line in re.findall(r"^\s*>>> (.+)$", inspect.getdoc(functions[name]) or "", re.MULTILINE):
            with suppress(SyntaxError):
                for node in ast.walk(ast.parse(line)):
                    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == name:
                        return ast.get_source_segment(line, node) or ""
    return ""
