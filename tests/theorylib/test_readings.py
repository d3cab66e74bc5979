"""Key finding: invented changes whose reading is common practice, and pieces analysed by others.

The figures for analysed pieces come from the roman-numeral analyses that music21's wheel carries (20 chorale and 48
madrigal analyses in its RomanText corpus); `tests/bench/key_finding.py` runs them all and prints agreement for the
pieces that were looked at and for the third that was held out. Here a few pieces keep the figure from falling unseen.
"""

from __future__ import annotations

import pytest
from support.analyses import agreement, analysed, held_out, pieces
from tables.readings import READINGS

from theorylib import Chart, harmony, readings

FLOOR = {False: 0.85, True: 0.72}  # measured 0.90 and 0.78 on these six


@pytest.mark.parametrize("name", READINGS)
def test_common_practice(name: str) -> None:
    changes, homes, numerals = READINGS[name]
    read = harmony(changes)
    assert [str(span.scale) for span in read.homes] == homes
    assert {index: read.chords[index].numeral for index in numerals} == numerals


@pytest.mark.parametrize("changes", ["| Dm7 | G7 |", "| Dm7 | G7 | Cmaj7 |", "| Dm7b5 | G7b9 | Cm |"])
def test_no_reading_is_much_dearer_than_the_first(changes: str) -> None:
    costs = [one.cost for one in readings(changes)]
    assert 0 < len(costs) <= 4
    assert costs == sorted(costs)
    assert costs[-1] <= costs[0] + 2.5


def test_at_least_thirty_forms() -> None:
    assert len(READINGS) >= 30


def test_agreement_with_analysts_does_not_fall() -> None:
    """Three pieces of each kind; the whole corpus gives 64 % (looked at) and 67 % (held out), see tests/bench."""
    for wanted in (False, True):
        chosen = [path for path in pieces() if held_out(path) == wanted and "riemenschneider" in path.name][:3]
        found = [same for path in chosen for same, _ in agreement(analysed(path))]
        assert len(found) > 100
        assert sum(found) / len(found) > FLOOR[wanted]


def test_a_vamp_has_several_readings() -> None:
    """Common practice, no source: Dm7 | G7 is D dorian, G mixolydian or ii-V of C."""
    found = readings("Dm7 | G7")
    assert {str(one.home) for one in found} >= {"D dorian", "G mixolydian", "C major"}
    assert str(found[0].home) == "D dorian"
    assert [reading.numeral for reading in found[0].harmony.chords] == ["i7", "IV7"]
    assert found[0].why == "Dm7 opens and is home; every chord lies in the scale."
    assert [one.cost for one in found] == sorted(one.cost for one in found)


@pytest.mark.parametrize(("changes", "index", "role"), [
    ("Cmaj7 | A7 | Dm7 | G7", 1, "V of ii"), ("Dm7 | Db7 | Cmaj7 | %", 1, "tritone substitute for V of home"),
    ("Gmaj7 | Cm7 F7 | Gmaj7 | D7", 2, "backdoor dominant"), ("C | F | Fm | C", 2, "borrowed from C minor"),
    ("Cmaj7 | C#dim7 | Dm7 | G7", 1, "leading-tone diminished of ii"),
    ("Fm7 | Dbmaj7 | Gm7b5 | C7#9", 3, "V of the minor key"),
    ("Cmaj7 | Gm7 C7 | Fmaj7 | G7", 1, "ii of IV"),
    ("Cmaj7 | F#m7b5 | B7 | Em7 | A7 | Dm7 | G7 | Cmaj7", 1, "ii of iii"),
    ("Em7 | A7 | Abm7 | Db7 | Cmaj7 | % | Dm7 | G7", 2, "ii of the tritone substitute for V of home"),
    ("E7 | A7 | E7 | B7", 1, "IV of the blues"), ("C | F | Fm | C", 1, "diatonic"),
])
def test_roles(changes: str, index: int, role: str) -> None:
    """Common practice, no source."""
    assert harmony(changes).chords[index].role == role


@pytest.mark.parametrize("changes", ["| Dm7 | G7 |", "| Am7 | D9 | E7#9 | Cmaj7 |", "| C | % | Fm6 |"])
def test_what_one_home_costs_is_what_the_search_pays_in_it(changes: str) -> None:
    """All homes summed up at once, against the search for the cheapest path that may use but the one."""
    from theorylib.reading.harmony import runs_of
    from theorylib.reading.homes import MODES, Home
    from theorylib.reading.keys import _search, costs_of

    runs = [run for run, _ in runs_of(Chart.parse(changes))]
    homes = [Home(tonic, mode) for mode in MODES for tonic in range(12)]
    for home, cost in zip(homes, costs_of(runs), strict=True):
        held = [run._replace(allowed=frozenset([home]), stated=False) for run in runs]
        assert cost == pytest.approx(_search(held)[1])
