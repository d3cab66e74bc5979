"""The vocabulary of chord symbols as tables: qualities, short names, modifiers, and how tensions grow and shrink them.

The conventions stand at the head of `chords`, which reads and prints by these tables. To add a quality, add a row.
"""

from __future__ import annotations

# canonical name | degrees in sounding order | other spellings; {M} is any word for major, {m} any word for minor.
_QUALITIES = """
             | 1 3 5            | {M}
m            | 1 b3 5           | {m}
dim          | 1 b3 b5          | ° o
aug          | 1 3 #5           | +
sus2         | 1 9 5            |
sus4         | 1 11 5           | sus
5            | 1 5              |
6            | 1 3 5 6          | {M}6 add6
m6           | 1 b3 5 6         | {m}6 {m}add6 MI6
6/9          | 1 3 5 6 9        | 69 6add9 {M}6/9 {M}69
m6/9         | 1 b3 5 6 9       | {m}6/9 {m}69 {m}6add9
7            | 1 3 5 b7         | dom7 Dom7
maj7         | 1 3 5 7          | {M}7 Δ Δ7 j7 MA7
m7           | 1 b3 5 b7        | {m}7 MI7
mMaj7        | 1 b3 5 7         | {m}{M}7 {m}({M}7) {m}/{M}7 {m}Δ {m}Δ7
dim7         | 1 b3 b5 bb7      | °7 o7
dimMaj7      | 1 b3 b5 7        | °{M}7 o{M}7 dim{M}7 dim({M}7) °({M}7) °Δ
7sus4        | 1 11 5 b7        | 7sus sus7 sus47
7sus2        | 1 9 5 b7         |
maj7sus4     | 1 11 5 7         | {M}7sus {M}7sus4
9            | 1 3 5 b7 9       | dom9 Dom9
maj9         | 1 3 5 7 9        | {M}9 Δ9 j9 MA9
m9           | 1 b3 5 b7 9      | {m}9 MI9
mMaj9        | 1 b3 5 7 9       | {m}{M}9 {m}({M}9) {m}Δ9
9sus4        | 1 11 5 b7 9      | 9sus sus9
11           | 1 5 b7 9 11      |
maj11        | 1 5 7 9 11       | {M}11
m11          | 1 b3 5 b7 9 11   | {m}11
13           | 1 3 5 b7 9 13    | dom13 Dom13
maj13        | 1 3 5 7 9 13     | {M}13 Δ13
m13          | 1 b3 5 b7 9 13   | {m}13
mMaj13       | 1 b3 5 7 9 13    | {m}{M}13 {m}({M}13)
13sus4       | 1 11 5 b7 9 13   | 13sus
7alt         | 1 3 #5 b7 #9     | alt 7(alt)
"""
# Names that stand for a quality of the table with something changed: spelling | what it says in the table's words.
_SHORT_NAMES = """
ø ø7 Ø Ø7          | m7b5
ø9 Ø9              | m9b5
aug7 +7 7aug       | 7#5
aug9 +9            | 9#5
aug{M}7 +{M}7 +Δ +Δ7 | maj7#5
aug({M}7) +({M}7)  | maj7#5
"""
_MAJOR_WORDS = ("maj", "Maj", "MAJ", "ma", "Ma", "M", "major")
_MINOR_WORDS = ("m", "min", "Min", "MIN", "mi", "Mi", "-", "minor")

# kind | degree or target | spellings. Parentheses, commas and spaces between modifiers are skipped by the reader.
_MODIFIERS = """
alter | b5   | b5 -5
alter | #5   | #5 +5 +
alter | b9   | b9 -9
alter | #9   | #9 +9
alter | #11  | #11 +11 #4
alter | b13  | b13 -13 b6
add   | 9    | add9 add2 /9
add   | 11   | add11 add4 /11
add   | 13   | add13 /13
add   | b9   | addb9
add   | #9   | add#9
add   | #11  | add#11 add#4
add   | b13  | addb13
omit  | 3    | no3 omit3 no3rd
omit  | 5    | no5 omit5 no5th
sus   | sus4 | sus4 sus
sus   | sus2 | sus2
"""
# "(13)" inside parentheses only.
BARE_ADDITIONS = {"9": ("add", "9"), "11": ("add", "11"), "13": ("add", "13")}
# A quality with a natural tension added is the next quality of its family.
GROWN = {
    ("7", "9"): "9",
    ("maj7", "9"): "maj9",
    ("m7", "9"): "m9",
    ("mMaj7", "9"): "mMaj9",
    ("7sus4", "9"): "9sus4",
    ("9", "13"): "13",
    ("maj9", "13"): "maj13",
    ("m9", "13"): "m13",
    ("mMaj9", "13"): "mMaj13",
    ("m9", "11"): "m11",
    ("9sus4", "13"): "13sus4",
    ("6", "9"): "6/9",
    ("m6", "9"): "m6/9",
    ("11", "13"): "13sus4",
}
# A quality whose natural tension is altered keeps what lies below that tension.
SHRUNK = {
    "9": "7",
    "maj9": "maj7",
    "m9": "m7",
    "mMaj9": "mMaj7",
    "9sus4": "7sus4",
    "11": "9",
    "maj11": "maj9",
    "m11": "m9",
    "13": "9",
    "maj13": "maj9",
    "m13": "m9",
    "mMaj13": "mMaj9",
    "13sus4": "9sus4",
    "6/9": "6",
    "m6/9": "m6",
}
# What the printer writes for people instead of a quality's first letters.
PRETTY = (("m7b5", "ø7"), ("m9b5", "ø9"), ("dimMaj7", "°maj7"), ("dim", "°"), ("aug", "+"))
ORDER = {
    degree: index
    for index, degree in enumerate(
        [
            "1",
            "b3",
            "3",
            "b5",
            "5",
            "#5",
            "6",
            "bb7",
            "b7",
            "7",
            "b9",
            "9",
            "#9",
            "11",
            "#11",
            "b13",
            "13",
        ]
    )
}


def _rows(table: str) -> list[list[str]]:
    return [[cell.strip() for cell in line.split("|")] for line in table.strip("\n").splitlines()]


def _spelled(template: str) -> list[str]:
    majors = _MAJOR_WORDS if "{M}" in template else ("",)
    minors = _MINOR_WORDS if "{m}" in template else ("",)
    return [
        template.replace("{M}", major).replace("{m}", minor) for major in majors for minor in minors
    ]


QUALITIES: dict[str, tuple[str, ...]] = {
    name: tuple(degrees.split()) for name, degrees, _ in _rows(_QUALITIES)
}
READS = {
    spelling: name
    for name, _, others in _rows(_QUALITIES)
    for word in [*others.split()]
    for spelling in _spelled(word)
} | {name: name for name in QUALITIES}
READS |= {
    spelling: target
    for words, target in _rows(_SHORT_NAMES)
    for word in words.split()
    for spelling in _spelled(word)
}
LONGEST_READ = max(map(len, READS))
MODIFIER_READS = {
    word: (kind, target) for kind, target, words in _rows(_MODIFIERS) for word in words.split()
}
