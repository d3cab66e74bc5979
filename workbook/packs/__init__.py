"""Packs: running a lesson, building its files and checking that it is true."""
