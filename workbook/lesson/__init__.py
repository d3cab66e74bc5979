"""Lessons: what one is, how one is written, what it says."""
