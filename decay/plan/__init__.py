"""Before the job: how long the pull takes, whether it is warm enough, how long a hold must last to prove something."""

from decay.impact.volume import from_parts as volume_from_parts
from decay.plan.expected import ExpectedHold, Levelling, expected_hold
from decay.plan.make import Intent, Plan, make_plan
from decay.plan.pump_and_gauge import Equipment, GaugeKind, Hose, parse_hose

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
    "volume_from_parts",
]
