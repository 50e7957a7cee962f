"""What a rule of thumb passes and what a hold proves, by simulation: `teach` makes a `Lesson` of its `Terms`."""

from decay.lesson.holds import Pair, Shown, find_pair
from decay.lesson.passing import Proof, RuleCurve, share
from decay.lesson.teaching import Lesson, teach
from decay.lesson.terms import Terms
