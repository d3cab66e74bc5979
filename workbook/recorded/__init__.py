"""What is made of recordings: a chart, a lesson's track, the report of a take."""
