"""Changes on paper: meters, bars, the text of charts, charts, and their form."""
