"""Listening to recordings: a backing track's beats, bars and chords, and a take against the line that it plays."""
