"""Handouts: a saved notebook as a tagged PDF for print and as one HTML file."""
