"""MusicXML documents as other programs write them, from short texts: invented, after the W3C's descriptions."""

from __future__ import annotations

HEAD = ("<divisions>12</divisions><key><fifths>0</fifths><mode>major</mode></key>"
        "<time><beats>4</beats><beat-type>4</beat-type></time>")


def note(pitch: str, duration: int, more: str = "", *, chord: bool = False, voice: str = "1") -> str:
    """A note "F#4" of so many twelfths of a beat ("" is a rest); `more` are elements within it, before notations."""
    sign = {"#": "<alter>1</alter>", "b": "<alter>-1</alter>"}.get(pitch[1:2], "")
    said = f"<pitch><step>{pitch[0]}</step>{sign}<octave>{pitch[-1]}</octave></pitch>" if pitch else "<rest/>"
    return (f"<note>{'<chord/>' if chord else ''}{said}<duration>{duration}</duration><voice>{voice}</voice>"
            f"{more}</note>")


def tied(pitch: str, duration: int, *ties: str) -> str:
    return note(pitch, duration, "".join(f'<tie type="{tie}"/>' for tie in ties))


def place(string: int, fret: int, finger: int | None = None) -> str:
    fingering = "" if finger is None else f"<fingering>{finger}</fingering>"
    return (f"<notations><technical>{fingering}<string>{string}</string><fret>{fret}</fret></technical></notations>")


def harmony(root: str, kind: str, more: str = "") -> str:
    return f"<harmony><root><root-step>{root}</root-step></root><kind>{kind}</kind>{more}</harmony>"


def document(*parts: tuple[str, list[str]], head: str = HEAD) -> str:
    """Parts of (name, measures); a measure is what stands in it, or that after a number and a bar (`7|...`)."""
    names = "".join(f'<score-part id="P{number}"><part-name>{name}</part-name></score-part>'
                    for number, (name, _) in enumerate(parts, 1))
    body = ""
    for number, (_, measures) in enumerate(parts, 1):
        written = ""
        for index, measure in enumerate(measures):
            label, _, inside = measure.partition("|") if measure[:1].isdigit() else (str(index + 1), "", measure)
            attributes = f"<attributes>{head}</attributes>" if index == 0 else ""
            written += f'<measure number="{label}">{attributes}{inside}</measure>'
        body += f'<part id="P{number}">{written}</part>'
    return f"<score-partwise><part-list>{names}</part-list>{body}</score-partwise>"


def tune(*measures: str, head: str = HEAD) -> str:
    return document(("Tune", list(measures)), head=head)
