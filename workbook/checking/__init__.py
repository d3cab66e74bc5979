"""Judging lessons: what runs, what is true, what can be used."""
