"""What is practised: drills through changes, sequences, phrases, touch, solo outlines."""
