"""Where pumping ends and the hold begins."""

from decay.phases.find import find_phases
from decay.phases.phase import Kind, Phase
from decay.phases.stated import hold_between
