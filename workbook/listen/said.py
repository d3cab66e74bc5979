"""The sentences of a take's findings: what was heard and what to do about it, one row for each kind.

The report and the practice page say the same, from this table. `{…}` are filled with what was measured.
"""

from __future__ import annotations

SAID: dict[str, tuple[str, str]] = {
    "wrong": ("{count}, here {heard}",
              "Say the notes of this bar aloud, then play it four times slowly without a slip"),
    "missing": ("{count} did not sound, {here} in this bar", "Loop this bar alone; every note rings once"),
    "late": ("On the whole you play {ms} ms {way}",
             "Tap the beat with your foot before you begin, and put the notes on the tap"),
    "uneven": ("The notes lie {ms} ms around the beat",
               "Play it with a click on every eighth, softly enough to hear each click"),
    "bar": ("This bar comes {ms} ms {way} beside the others",
            "Loop it with the bar before; listen where the hand moves"),
    "off-beats": ("Off-beats come {ms} ms {way} their place",
                  "Set the click on the off-beats alone and play the line over it"),
    "drift": ("You {way} by {ms} ms", "Play it through twice with a click on beat 1 only"),
}
WAYS = {"late": ("late", "early"), "bar": ("late", "early"), "off-beats": ("after", "before"),
        "drift": ("drag: the end comes later", "rush: the end comes earlier")}  # of what is over 0, and under
COUNTED = {"wrong": "wrong note", "missing": "note"}
WELL = {"all": "All {count} notes are there and right", "some": "{right} of {count} notes are right",
        "even": ", in time to within {ms} ms", "steadiest": "; bar {bar} is the steadiest, within {ms} ms"}


def counted(count: int, word: str) -> str:
    """
    >>> counted(1, "wrong note"), counted(3, "note")
    ('1 wrong note', '3 notes')
    """
    return f"{count} {word}{'' if count == 1 else 's'}"
