"""Whether a teacher's own sentences agree with the lesson that they stand in."""

from .facts import Facts, facts_about
from .judge import Contradiction, Judged, contradictions
from .of_lesson import facts_of

__all__ = ["Contradiction", "Facts", "Judged", "contradictions", "facts_about", "facts_of"]
