"""Where notes lie: tunings, shapes, areas, voicings."""
