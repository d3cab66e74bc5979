"""Takes over weeks: the numbers of each kept by student and lesson, and one page that shows what became of them.

The folder holds STUDENT/LESSON/DATE-NAME.json, the date being the recording's own (its file's), and STUDENT/LESSON/
progress.html, which is made anew from what lies beside it. A file that this module did not make is never replaced.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..files import FileError, read_text, slug, write_whole

if TYPE_CHECKING:
    from .takes import TakeReport

_OURS = "<!-- made by vampbook take --progress; made anew with each take -->"
_COLUMNS = (("date", "Date"), ("tempo", "Tempo"), ("right", "Right"), ("around", "Around the beat"),
            ("off", "Off-beats"), ("bends", "Bends off by"))


def keep(report: TakeReport, folder: Path, recording: Path) -> Path:
    """Keep a take's numbers and make the page anew; gives the page. The same take kept twice is one."""
    place = folder / slug(report.student or "student") / slug(report.lesson or report.line.title or "line")
    day = datetime.fromtimestamp(recording.stat().st_mtime, UTC).strftime("%Y-%m-%d")
    kept, page = place / f"{day}-{slug(recording.stem)}.json", place / "progress.html"
    content = json.loads(report.json()) | {"date": day, "tempo": round(60 / report.take.expected.beat_seconds, 1)}
    if page.exists() and _OURS not in read_text(page):
        raise FileError(f"{page} was not made by this command", value=str(page), expected="another folder")
    if kept.exists() and _take_in(kept) is None:
        raise FileError(f"{kept} is no take that was kept here", value=str(kept), expected="another folder")
    place.mkdir(parents=True, exist_ok=True)
    write_whole(kept, json.dumps(content, indent=1, ensure_ascii=False) + "\n")
    takes = [found for path in sorted(place.glob("*.json")) if (found := _take_in(path)) is not None]
    write_whole(page, _page(report, takes))
    return page


def _take_in(path: Path) -> dict[str, Any] | None:
    """The numbers of a kept take; None for any other file."""
    try:
        found = json.loads(read_text(path))
        _row(found)
    except (ValueError, KeyError, TypeError):
        return None
    return found if isinstance(found, dict) else None


def _row(take: dict[str, Any]) -> dict[str, str]:
    counts, timing = take["counts"], take["timing"]
    bends = [abs(bend["level_cents"] - bend["wanted_cents"]) for note in take["notes"] for bend in note["bends"]]
    off = take["off_beats_less_on_beats_ms"]
    return {"date": str(take["date"]), "tempo": f"{float(take['tempo']):g}",
            "right": f"{counts['ok']} of {len(take['notes'])}", "around": f"{float(timing['deviation_ms']):.0f} ms",
            "off": "–" if off is None else f"{float(off):+.0f} ms",
            "bends": f"{max(bends):.0f} cents" if bends else "–"}


def _page(report: TakeReport, takes: list[dict[str, Any]]) -> str:
    title = " · ".join(filter(None, (report.student, report.lesson, "progress")))
    head = "".join(f'<th scope="col">{name}</th>' for _, name in _COLUMNS)
    rows = "".join("<tr>" + "".join(f"<td>{escape(_row(take)[key])}</td>" for key, _ in _COLUMNS) + "</tr>"
                   for take in takes)
    last = "".join(f"<li>{escape(str(one))}</li>" for one in takes[-1]["words"])
    return (f'<!DOCTYPE html>\n<html lang="en">{_OURS}<head><meta charset="utf-8"><title>{escape(title)}</title>'
            '<meta name="viewport" content="width=device-width, initial-scale=1">'
            "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
            "<style>body { font: 1.15rem/1.5 sans-serif; max-width: 60rem; margin: 1.5rem auto; padding: 0 1rem; } "
            "table { border-collapse: collapse; } th, td { border: 1px solid #767676; padding: .3rem .7rem; "
            "text-align: left; }</style></head>\n"
            f"<body><main><h1>{escape(title)}</h1><table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
            f"<h2>The last take</h2><ul>{last}</ul>"
            "<p>A smaller number of ms and cents is steadier; what counts is the way it goes over weeks.</p>"
            "</main></body></html>\n")
