"""Where pumping ends and the hold begins."""

from decay.phases.between import hold_between
from decay.phases.find import find_phases
from decay.phases.phase import Kind, Phase

__all__ = ["Kind", "Phase", "find_phases", "hold_between"]
