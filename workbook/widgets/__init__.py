"""Interactive panels for the notebooks: each a short class here and one file for the browser."""
