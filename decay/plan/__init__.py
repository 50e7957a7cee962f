"""Before the job: how long the pull takes, whether it is warm enough, and how long a hold must last to prove something."""

from decay.plan.equipment import Equipment, GaugeKind, Hose, parse_hose



__all__ = [
    "Equipment",
    "ExpectedHold",
    "GaugeKind",
    "Hose",
    "Intent",
    "Levelling",
    "Plan",
    "expected_hold",
    "make_plan",
    "parse_hose",
]
