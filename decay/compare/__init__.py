"""Before and after: the difference of two holds, and what it proves."""

from decay.compare.comparison import Comparison, compare

__all__ = ["Comparison", "compare"]
