"""What a teacher brings to a lesson: photographs, drawings, recordings."""
