"""What our pages and panels share in the browser: modules of script, and the one way in which they become one text."""
