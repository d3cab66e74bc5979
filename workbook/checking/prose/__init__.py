"""Whether a teacher's own sentences agree with the lesson that they stand in."""
