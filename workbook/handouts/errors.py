"""What goes wrong when a notebook is made into a handout."""

from __future__ import annotations

from theorylib.errors import VampError


class HandoutError(VampError):
    """A notebook that cannot become a handout: the message names the cell."""
