"""The commands of the terminal, a module for each kind of work."""
