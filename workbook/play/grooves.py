"""Patterns of the feels, as data: what drums, bass and comping play in a bar.

Format: a row is one bar in steps, a space between pulses; `steps` are the parts of a pulse. Drums: X loud, x plain, o
soft, a dot silent. Bass: R root (or slash bass), 3 third, 5 fifth, 8 octave, 7 seventh, a approach to the next root,
- holds, a dot silent. Comping: X accented, x plain, - holds, a dot silent. A bar of another length takes the pulses in
turn and starts again with the first. Common practice of these styles, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

# General MIDI percussion keys (GM 1 percussion map).
DRUM_KEYS = {"kick": 36, "snare": 38, "rim": 37, "hat": 42, "open hat": 46, "ride": 51, "crash": 49, "low tom": 45,
             "mid tom": 47, "high tom": 50, "shaker": 82, "pedal hat": 44}


@dataclass(frozen=True, slots=True)
class Groove:
    """One feel's bar: steps a pulse, drum rows by name, and a bass and a comping row."""

    steps: int
    drums: tuple[tuple[str, str], ...]
    bass: str
    comp: str


def _groove(steps: int, bass: str, comp: str, **drums: str) -> Groove:
    return Groove(steps, tuple((name.replace("_", " "), row) for name, row in drums.items()), bass, comp)


GROOVES: dict[str, Groove] = {
    "straight 8": _groove(2, "R- R- 5- R.", "X- .x .x ..", kick="X. .. X. ..", snare=".. X. .. X.", hat="xo xo xo xo"),
    "straight 16": _groove(4, "R-.R .... R-5- ..8.", "X-.. ..x. ..x. ....", kick="X..o .... ..X. ....",
                           snare=".... X... .... X..o", hat="xoxo xoxo xoxo xoxo"),
    "swing": _groove(2, "R- 3- 5- a-", "x. .x .. x.", ride="X. xo X. xo", pedal_hat=".. x. .. x.",
                     kick="o. o. o. o."),
    "swing 16": _groove(4, "R-.R .... 5-.. ..a.", "X-.. ...x .... ..x.", kick="X... .... ..x. ....",
                        snare=".... X... .... X..o", hat="x.xo x.xo x.xo x.xo"),
    "shuffle": _groove(2, "R- 5- 8- 5-", ".x .. .x ..", kick="X. .. X. ..", snare=".. X. .. X.", hat="Xo xo Xo xo"),
    "half-time": _groove(2, "R- -- -. 5.", "X- -- .. x.", kick="X. .x .. ..", snare=".. .. X. ..",
                         hat="xo xo xo xo"),
    "waltz": _groove(2, "R- 5- 5-", ".. x- x-", kick="X. .. ..", snare=".. o. o.", ride="X. xo xo"),
    "ballad": _groove(2, "R- -- 5- --", "X- -- x- --", kick="X. .. x. ..", rim=".. x. .. x.", hat="xo xo xo xo"),
    "rock": _groove(2, "RR RR RR RR", "X- -- X- -x", kick="X. .x X. ..", snare=".. X. .. X.", hat="Xx Xx Xx Xx"),
    "funk": _groove(4, "R..R ..8. .R.5 ..a.", "..x. .x.. ..x. ..x.", kick="X..x .... ..x. .x..",
                    snare=".... X..o .o.. X...", hat="xxxx xxxx xxxx xxox"),
    "latin straight": _groove(2, "R. .5 .. 5.", "x. .x .x ..", kick="X. .x X. .x", rim="x. .x .. x.",
                              shaker="xo xo xo xo"),
}
# Meters whose pulse is a dotted note (6/8, 12/8) swing by themselves: three steps a pulse, whatever the feel.
COMPOUND = _groove(3, "R-. 5-.", "x.. x..", kick="X.. ...", snare="... X..", hat="xox xox")
# Fills take the last two pulses of a bar before a new section; a crash and a kick answer on the next bar.
FILLS: dict[int, tuple[tuple[tuple[str, str], ...], ...]] = {
    2: ((("snare", "x. xx"), ("low tom", ".. .x")), (("high tom", "xx .."), ("low tom", ".. xx")),
        (("snare", "xx xx"),), (("snare", ".x X."), ("mid tom", "x. .x"))),
    3: ((("snare", "x.x xxx"),), (("high tom", "xxx ..."), ("low tom", "... xxx")), (("snare", "..x X.x"),)),
    4: ((("snare", "x.xx xxxx"),), (("high tom", "xxxx ...."), ("low tom", ".... xxxx")),
        (("snare", "..xx .xx."), ("kick", "x... x...")), (("snare", "x..x ..xx"), ("mid tom", "..x. x..."))),
}
VELOCITIES = {"X": 104, "x": 84, "o": 56}


def pulses_of(row: str) -> list[str]:
    """The row pulse by pulse."""
    return row.split()
