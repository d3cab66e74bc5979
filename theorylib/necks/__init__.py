"""Where notes lie: tunings, shapes, areas, grips."""
