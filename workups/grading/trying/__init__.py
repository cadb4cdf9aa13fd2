"""One choice of one step, tried at every value it may take: what would more portions, another pH,
more drying agent have done here?

``ideas`` says what can be tried at a step, ``trials`` carries the plan out once for each value.
Everything is a share, so that nothing about grams is told.
"""

from .ideas import IDEAS, Idea, ideas_of
from .trials import Line, Trial, try_out

__all__ = ["IDEAS", "Idea", "Line", "Trial", "ideas_of", "try_out"]
