"""Lines of several kinds for the tests of notation, MIDI and MusicXML: invented, and random ones by hypothesis."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st

from theorylib import Chart, Line, Note, Pitch, Tuning, continuous_arpeggio, finger

BEAT_PARTS = ("1/2 1/2", "1", "1/4 1/4 1/4 1/4", "1/3 1/3 1/3", "2/3 1/3", "3/4 1/4", "1/5 1/5 1/5 1/5 1/5",
              "-1/2 1/2", "-1", "1/6 1/6 1/6 1/6 1/6 1/6", "1/7 1/7 1/7 1/7 1/7 1/7 1/7", "1/8 1/8 1/4 1/2")


def line_of_durations(durations: list[Fraction], meter: str = "4/4", key: str = "C major", feel: str = "straight 8",
                      pitch: str = "A3") -> Line:
    """Notes of these lengths one after the other (negative: a rest), fingered, over a chart of C."""
    notes, now = [], Fraction(0)
    for length in durations:
        if length > 0:
            notes.append(Note(Pitch.parse(pitch), now, length, degree="6"))
        now += abs(length)
    chart = Chart.parse("| C |", meter=meter, key=key, feel=feel)
    return finger(Line(tuple(notes), chart, length_beats=now))


def durations(text: str) -> list[Fraction]:
    return [Fraction(word) for word in text.split()]


@st.composite
def rhythms(draw: st.DrawFn) -> list[Fraction]:
    """A few beats of plain and divided rhythm; the first pieces may be longer notes that cross beats."""
    long = draw(st.lists(st.sampled_from(["3/2 1/2", "2", "1/2 1 1/2", "5 1", "3", "-2"]), max_size=2))
    beats = draw(st.lists(st.sampled_from(BEAT_PARTS), min_size=1, max_size=6))
    return durations(" ".join([*long, *beats]))


def arpeggio(chart: str, position: int | None = 5, tuning: str = "standard", **choices: object) -> Line:
    neck = Tuning.parse(tuning)
    return finger(continuous_arpeggio(chart, position=position, tuning=neck, **choices), neck, position)  # type: ignore[arg-type]


def double_stops() -> Line:
    """Thirds in quarter notes, then a whole bar of rest."""
    pairs = [("C4", "E4", 5, 5), ("D4", "F4", 7, 6), ("E4", "G4", 9, 8)]
    notes = [Note(Pitch.parse(name), Fraction(beat), Fraction(1), string, fret)
             for beat, (low, high, low_fret, high_fret) in enumerate(pairs)
             for name, string, fret in ((low, 3, low_fret), (high, 2, high_fret))]
    return Line(tuple(notes), Chart.parse("key: C major\n| C | G7 |"), length_beats=Fraction(8))


INVENTED: dict[str, Line] = {
    "eighths": arpeggio("key: G dorian\ntempo: 92\n[A] | Gm7 | C9 |", 3, passes=2),
    "sixteenths": arpeggio("key: Bb major\n| F#m7b5 Bb7#9 | Ab13sus4/Eb C7alt |"),
    "triplets": arpeggio("key: E minor\nmeter: 3/4\nfeel: waltz\n| Em | Bm7 |", per_chord=9),
    "quintuplets": line_of_durations(durations("1/5 1/5 1/5 1/5 1/5 1 1 1")),
    "ties": line_of_durations(durations("3/2 5/2 5 3")),
    "compound": arpeggio("meter: 6/8\n| Am | E7 |", per_chord=6),
    "twelve-eight": arpeggio("meter: 12/8\nfeel: shuffle\n| A7 |", per_chord=12),
    "rests": line_of_durations(durations("-1 1 -1/2 1/2 -1 1 -3")),
    "double stops": double_stops(),
    "seven strings": arpeggio("| Em7 | B7b9 |", 5, "seven-string"),
    "capo": arpeggio("key: A major\n| A | D |", 2, "standard capo 2"),
    "drop D": arpeggio("key: D minor\n| Dm | A7 |", 2, "drop D"),
    "swing": arpeggio("key: C minor\nfeel: swing\n| Cm7 | N.C. | G7#9 |", 8),
}
