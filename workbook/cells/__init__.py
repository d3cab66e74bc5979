"""What a cell of a lesson shows and says: values, drills, backings, mistakes, commands."""
