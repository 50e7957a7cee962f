"""What a vacuum hold proves: vacuum-decay and leak-test analysis of logged micron readings."""

from __future__ import annotations

import re
from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

# The public names stand here once: a type checker reads the lines as they are, and `__getattr__` follows the one whose
# name is asked for, so that `import decay` and `decay --help` stay light.
if TYPE_CHECKING:
    from decay.analysis import Analysis
    from decay.comparison import compare
    from decay.errors import CriterionError, DecayError, FitError, LogError, RangeError, UnitError
    from decay.interface import analyze, plan, simulate
    from decay.interval import Interval
    from decay.judge.answer import Verdict
    from decay.judge.criteria import Criterion, criterion_names, default_criteria, load_criterion
    from decay.judge.finding import Cause, Finding, Level, Result
    from decay.judge.rules import explain, finding_codes, finding_titles
    from decay.log import PressureLog, ReadOptions, read_log
    from decay.pipeline import analyze_job, examine_rig, practices
    from decay.several.rig import RigTest
    from decay.several.warm import Warmed
    from decay.system import Allowance, AllowKind, System

with open(__file__, encoding="utf-8") as _lines:
    _HOMES = {name: home for home, names in re.findall(r"^    from (decay\.\S+) import (.+)$", _lines.read(), re.M)
              for name in names.split(", ")}
__all__ = sorted([*_HOMES, "__version__"])


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(home), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return __all__
