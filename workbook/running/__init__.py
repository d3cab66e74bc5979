"""Running lessons apart from everything else, within bounds."""
