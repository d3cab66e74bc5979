"""What things are called: note names, chords, scales, arpeggios, and naming what sounds."""
