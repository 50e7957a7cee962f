"""What a vacuum hold proves: vacuum-decay and leak-test analysis of logged micron readings."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

# Name -> module. Loaded on first use, so that `import decay` and `decay --help` stay light.
_HOMES = {
    "AllowKind": "decay.system",
    "Allowance": "decay.system",
    "Analysis": "decay.analysis",
    "Cause": "decay.judge.finding",
    "Criterion": "decay.judge.criteria",
    "CriterionError": "decay.errors",
    "DecayError": "decay.errors",
    "Finding": "decay.judge.finding",
    "FitError": "decay.errors",
    "Interval": "decay.interval",
    "Level": "decay.judge.finding",
    "LogError": "decay.errors",
    "PressureLog": "decay.log.pressure_log",
    "RangeError": "decay.errors",
    "ReadOptions": "decay.log",
    "Result": "decay.judge.finding",
    "RigTest": "decay.several.rig",
    "System": "decay.system",
    "UnitError": "decay.errors",
    "Verdict": "decay.judge.answer",
    "Warmed": "decay.several.warm",
    "analyze": "decay.interface",
    "analyze_job": "decay.pipeline",
    "compare": "decay.comparison",
    "criterion_names": "decay.judge.criteria",
    "default_criteria": "decay.judge.criteria",
    "examine_rig": "decay.pipeline",
    "explain": "decay.judge.rules",
    "finding_codes": "decay.judge.rules",
    "finding_titles": "decay.judge.rules",
    "load_criterion": "decay.judge.criteria",
    "plan": "decay.interface",
    "practices": "decay.pipeline",
    "read_log": "decay.log",
    "simulate": "decay.interface",
}
# Names that are plain where they live and would say too little here.
_NAMES_THERE = {
    "criterion_names": "names",
    "default_criteria": "unasked",
    "finding_codes": "codes",
    "finding_titles": "titles",
    "load_criterion": "load",
}

__all__ = [
    "AllowKind",
    "Allowance",
    "Analysis",
    "Cause",
    "Criterion",
    "CriterionError",
    "DecayError",
    "Finding",
    "FitError",
    "Interval",
    "Level",
    "LogError",
    "PressureLog",
    "RangeError",
    "ReadOptions",
    "Result",
    "RigTest",
    "System",
    "UnitError",
    "Verdict",
    "Warmed",
    "__version__",
    "analyze",
    "analyze_job",
    "compare",
    "criterion_names",
    "default_criteria",
    "examine_rig",
    "explain",
    "finding_codes",
    "finding_titles",
    "load_criterion",
    "plan",
    "practices",
    "read_log",
    "simulate",
]

if TYPE_CHECKING:
    from decay.analysis import Analysis
    from decay.comparison import compare
    from decay.errors import CriterionError, DecayError, FitError, LogError, RangeError, UnitError
    from decay.interface import analyze, plan, simulate
    from decay.interval import Interval
    from decay.judge.answer import Verdict
    from decay.judge.criteria import Criterion
    from decay.judge.criteria import load as load_criterion
    from decay.judge.criteria import names as criterion_names
    from decay.judge.criteria import unasked as default_criteria
    from decay.judge.finding import Cause, Finding, Level, Result
    from decay.judge.rules import codes as finding_codes
    from decay.judge.rules import explain
    from decay.judge.rules import titles as finding_titles
    from decay.log import ReadOptions, read_log
    from decay.log.pressure_log import PressureLog
    from decay.pipeline import analyze_job, examine_rig, practices
    from decay.several.rig import RigTest
    from decay.several.warm import Warmed
    from decay.system import Allowance, AllowKind, System


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(home), _NAMES_THERE.get(name, name))
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
