"""How often our key agrees with an analyst's, chord by chord, over all of music21's RomanText pieces (two minutes).

Run: python tests/bench/key_finding.py. A numeral counts as agreeing where the key does: on the same tonic and side it
names the same degree of the same chord.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1])]

from support.analyses import agreement, analysed, held_out, homes_of, is_minor, pieces  # noqa: E402


def main() -> None:
    for name, wanted in (("looked at", False), ("held out", True)):
        keys = tonics = count = 0
        misses: Counter[str] = Counter()
        chosen = [path for path in pieces() if held_out(path) == wanted]
        for path in chosen:
            piece = analysed(path)
            for key, tonic in agreement(piece):
                keys, tonics, count = keys + key, tonics + tonic, count + 1
            for one, home in zip(piece, homes_of(piece), strict=True):
                side = "minor" if is_minor(home) else "major"
                if (home.tonic, side == "minor") != (one.tonic, one.minor):
                    misses[f"{side} {(home.tonic - one.tonic) % 12} semitones above an analyst's "
                           f"{'minor' if one.minor else 'major'}"] += 1
        print(f"{name}: {len(chosen)} pieces, {count} chords, key and numeral {keys / count:.1%}, "
              f"tonic {tonics / count:.1%}")
        for words, times in misses.most_common(5):
            print(f"  {times:5d}  {words}")


if __name__ == "__main__":
    main()
