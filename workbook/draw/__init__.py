"""Pictures: necks, charts, staff and TAB, as SVG with words that say what they show."""
