"""Before the job: how long the pull takes, whether it is warm enough, how long a hold must last to prove something."""

from decay.impact.volume_told import from_parts as volume_from_parts
from decay.planning.make import Intent, Plan, intent_of, make_plan
from decay.planning.pump_and_gauge import Equipment, GaugeKind, Hose, parse_hose
from decay.planning.trial_holds import Conditions, Levelling, trial_hold
