"""Invented changes in common forms and their reading, common practice (no source): homes in order, some numerals."""

# name: (changes, home scales in order, {event index: numeral})
READINGS: dict[str, tuple[str, list[str], dict[int, str]]] = {
    "two-chord dorian": ("Gm7 | C9", ["G dorian"], {0: "ii7", 1: "V9"}),
    "two-chord minor": ("Em7 | Am7", ["E minor"], {0: "i7", 1: "iv7"}),
    "two-chord major": ("Amaj7 | Dmaj7", ["A major"], {0: "Imaj7", 1: "IVmaj7"}),
    "mixolydian rock": ("E | D | A | E", ["E mixolydian"], {1: "bVII", 2: "IV"}),
    "mixolydian seventh vamp": ("G7 | F | G7 | F", ["G mixolydian"], {0: "I7", 1: "bVII"}),
    "lydian vamp": ("Ebmaj7 | F/Eb | Ebmaj7 | F/Eb", ["Eb lydian"], {0: "Imaj7"}),
    "phrygian vamp": ("Bm | C | Bm | C", ["B phrygian"], {1: "bII"}),
    "ii-V-I in major": ("Bbm7 | Eb7 | Abmaj7 | %", ["Ab major"], {0: "ii7", 1: "V7", 2: "Imaj7"}),
    "ii-V-i in minor": ("F#m7b5 | B7b9 | Em7 | %", ["E minor"], {0: "iiø7", 1: "V7b9", 2: "i7"}),
    "turnaround": ("Fmaj7 | D7 | Gm7 | C7", ["F major"], {1: "VI7", 2: "ii7", 3: "V7"}),
    "diatonic turnaround": ("Dmaj7 | Bm7 | Em7 | A7", ["D major"], {1: "vi7", 3: "V7"}),
    "minor loop with altered dominant": ("Fm7 | Dbmaj7 | Gm7b5 | C7#9", ["F minor"], {1: "bVImaj7", 3: "V7#9"}),
    "minor loop with a slash chord": ("Dm | Dm/C | Bbmaj7 | A7", ["D minor"], {1: "i/b7", 3: "V7"}),
    "rock loop in minor": ("Am | G | F | G", ["A minor"], {1: "bVII", 2: "bVI"}),
    "descending minor": ("Gm | F | Eb | D7", ["G minor"], {3: "V7"}),
    "four-chord major": ("E | B | C#m | A", ["E major"], {1: "V", 2: "vi", 3: "IV"}),
    "twelve-bar blues": ("E7 | A7 | E7 | % | A7 | % | E7 | % | B7 | A7 | E7 | B7", ["E blues"], {4: "IV7", 8: "V7"}),
    "slow-change blues": ("C7 | % | % | % | F7 | % | C7 | % | G7 | F7 | C7 | %", ["C blues"], {4: "IV7"}),
    "minor blues": ("Cm7 | % | % | % | Fm7 | % | Cm7 | % | Ab7 | G7 | Cm7 | %", ["C minor"], {8: "bVI7", 9: "V7"}),
    "blues with ii-V": ("Bb7 | Eb7 | Bb7 | % | Eb7 | % | Bb7 | G7 | Cm7 | F7 | Bb7 | F7", ["Bb blues"], {8: "ii7"}),
    "tritone substitute": ("Dm7 | Db7 | Cmaj7 | %", ["C major"], {1: "bII7"}),
    "backdoor": ("Gmaj7 | Cm7 F7 | Gmaj7 | D7", ["G major"], {1: "iv7", 2: "bVII7"}),
    "borrowed iv": ("C | F | Fm | C", ["C major"], {2: "iv"}),
    "secondary dominants in a row": ("Gmaj7 | E7 | A7 | D7 | Gmaj7 | % | Am7 | D7", ["G major"], {1: "VI7", 2: "II7"}),
    "circle in minor": ("Dm7 | Gm7 | C7 | Fmaj7 | Bbmaj7 | Em7b5 | A7 | Dm7", ["D minor"], {2: "bVII7", 6: "V7"}),
    "up a minor third": ("Cmaj7 | Am7 | Dm7 | G7 | Cmaj7 | % | Fm7 | Bb7 | Ebmaj7 | Cm7 | Fm7 | Bb7 | Ebmaj7 | %",
                         ["C major", "Eb major"], {0: "Imaj7", 8: "Imaj7"}),
    "relative minor bridge": ("C | G | Am | F | C | G | F | C | Am | E7 | Am | % | Dm | Am | E7 | Am",
                              ["C major", "A minor"], {2: "vi", 8: "i"}),
    "diminished passing": ("Cmaj7 | C#dim7 | Dm7 | G7", ["C major"], {1: "#i°7"}),
    "dorian with a bridge": ("Dm7 | Em7 | Dm7 | Em7 | Dm7 | Em7 | Dm7 | Em7", ["D dorian"], {1: "ii7"}),
    "waltz in minor": ("Am | E7 | Am | Dm | Am | E7 | Am | %", ["A minor"], {1: "V7", 3: "iv"}),
    "minor with major IV": ("Bm | E | Bm | E", ["B dorian"], {1: "IV"}),
    "power chords": ("E5 | G5 | A5 | E5", ["E minor"], {0: "I5"}),
}

# Charts whose common reading is not found, with what is found instead.
MISSED = {
    "relative minor bridge": "read as A minor throughout: a change of home costs more than eight bars of C major earn",
}
