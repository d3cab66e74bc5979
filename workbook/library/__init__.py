"""Many lessons: packs, students, courses, machines."""
