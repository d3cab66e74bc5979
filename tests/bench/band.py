"""What the band plays, in numbers: `python tests/bench/band.py [--sound]`, over every feel, six meters and ten charts.

Means over tracks of about three minutes. With --sound also how loud each part is in each feel (LUFS, ITU-R BS.1770).
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from support import band  # noqa: E402

from theorylib import Chart  # noqa: E402
from theorylib.changes.meters import FEELS  # noqa: E402
from workbook.play.backing import BASS, CLICK, COMP, DRUMS, Backing, backing, passes_in  # noqa: E402

MINUTES = 3.0


def tracks(feel: str) -> list[Backing]:
    charts = [Chart.parse(text, meter=meter, feel=feel) for meter in band.METERS for text in band.CHARTS]
    return [backing(chart, passes=passes_in(chart, MINUTES)) for chart in charts]


def mean(values: list[float]) -> float:
    return sum(values) / max(1, len(values))


def row(feel: str, found: list[Backing]) -> str:
    drums, comp = [band.repeats(one, DRUMS) for one in found], [band.repeats(one, COMP) for one in found]
    ways, chords = [band.bass_ways(one) for one in found], [band.voicings(one) for one in found]
    struck = sum(one.struck for one in chords) or 1
    misplaced = sum(len(set(band.crashes(one)) - band.section_starts(one)) for one in found)
    stray = sum(len([bar for bar in band.fills(one) if bar + 1 not in band.section_starts(one)]) for one in found)
    crash = sum(len(band.crashes(one)) for one in found) / sum(one.passes * one.chart.form_bars for one in found)
    columns = [f"{feel:15}", *map(repeated, (drums, comp))]
    columns.append(f"{mean([band.roots_on_changes(one) for one in found]):6.2f}"
                   f"{mean([one.leaps for one in ways]):7.3f}{mean([one.octaves for one in ways]):6.3f}"
                   f"{min(one.low for one in ways):4}{max(one.high for one in ways):4}")
    columns.append(f"{sum(one.minor_ninths for one in chords) / struck:6.2f}"
                   f"{sum(one.top_semitones for one in chords) / struck:6.2f}"
                   f"{sum(one.sharp_nine_low for one in chords):5}"
                   f"{sum(one.roots for one in chords) / struck:6.2f}"
                   f"{min(one.low for one in chords):4}{max(one.high for one in chords):4}")
    columns.append(f"{misplaced:4}{stray:5}{crash:6.3f}{mean([band.notes_a_minute(one) for one in found]):7.0f}")
    return " |".join(columns)


def repeated(found: list[band.Repeats]) -> str:
    return (f"{mean([one.commonest for one in found]):6.2f}{mean([one.like_before for one in found]):6.2f}"
            f"{mean([one.entropy_bits for one in found]):6.2f}{mean([one.passes_alike for one in found]):6.2f}")


def time_of(found: list[Backing]) -> str:
    rows = []
    for part in (DRUMS, BASS, COMP):
        all_of = [band.off_the_grid(one, part) for one in found]
        rows.append(f"{part} {mean([one for one, _ in all_of]):+.1f}±{mean([two for _, two in all_of]):.1f}")
    return ", ".join(rows)


def loud(feel: str) -> str:
    from workbook.play.levels import loudness
    from workbook.play.sound import mixed

    track = backing(Chart.parse(band.CHARTS[5], feel=feel), passes=2, click=True)
    levels = {part: loudness(mixed(track, parts=[part], level=False)) for part in (DRUMS, BASS, COMP, CLICK)}
    whole = loudness(mixed(track, level=False))
    parts = "  ".join(f"{part} {level - whole:+6.1f}" for part, level in levels.items())
    return f"{feel:15}{parts}  mix {whole:.1f}"


def main() -> None:
    print("                 drums: commonest, like before, bits, passes alike | comping: the same | bass: roots, "
          "leaps, octaves, range | comping: "
          "minor ninths, top semitones, #9 low, roots, range | crash and fill elsewhere, "
          "crashes a bar, notes a minute")
    approaches: Counter[str] = Counter()
    moments = []
    start = time.perf_counter()
    for feel in FEELS:
        found = tracks(feel)
        for one in found:
            approaches.update(band.bass_ways(one).approaches)
        print(row(feel, found))
        moments.append(f"{feel:15}{time_of(found)}")
    print(*moments, sep="\n")
    whole = sum(approaches.values())
    print("approaches:", ", ".join(f"{name} {count / whole:.2f}" for name, count in approaches.most_common()))
    print(f"{time.perf_counter() - start:.0f} s")
    if "--sound" in sys.argv:
        print(*map(loud, FEELS), sep="\n")


if __name__ == "__main__":
    main()
