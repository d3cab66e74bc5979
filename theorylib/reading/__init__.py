"""What changes mean: keys, chord scales, roles, harmony, substitutes, uses."""
