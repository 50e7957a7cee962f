"""What a vacuum hold proves: vacuum-decay and leak-test analysis of logged micron readings."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

# What a type checker reads. A test holds it against `_HOMES`, by which a running program finds the same names.
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

# Where each public name is at home. It is imported when it is first asked for, so that `import decay` and
# `decay --help` stay light.
_HOMES = {
    "Analysis": "decay.analysis",
    "compare": "decay.comparison",
    "CriterionError": "decay.errors",
    "DecayError": "decay.errors",
    "FitError": "decay.errors",
    "LogError": "decay.errors",
    "RangeError": "decay.errors",
    "UnitError": "decay.errors",
    "analyze": "decay.interface",
    "plan": "decay.interface",
    "simulate": "decay.interface",
    "Interval": "decay.interval",
    "Verdict": "decay.judge.answer",
    "Criterion": "decay.judge.criteria",
    "criterion_names": "decay.judge.criteria",
    "default_criteria": "decay.judge.criteria",
    "load_criterion": "decay.judge.criteria",
    "Cause": "decay.judge.finding",
    "Finding": "decay.judge.finding",
    "Level": "decay.judge.finding",
    "Result": "decay.judge.finding",
    "explain": "decay.judge.rules",
    "finding_codes": "decay.judge.rules",
    "finding_titles": "decay.judge.rules",
    "PressureLog": "decay.log",
    "ReadOptions": "decay.log",
    "read_log": "decay.log",
    "analyze_job": "decay.pipeline",
    "examine_rig": "decay.pipeline",
    "practices": "decay.pipeline",
    "RigTest": "decay.several.rig",
    "Warmed": "decay.several.warm",
    "Allowance": "decay.system",
    "AllowKind": "decay.system",
    "System": "decay.system",
}
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
