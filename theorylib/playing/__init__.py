"""What a hand does: lines, their notation, fingering, difficulty, joins."""
