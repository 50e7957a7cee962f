"""Where pumping ends and the hold begins.

Readings that leave the curve and come back within eight of them and 45 s are set aside (`phases/readings.py`). Pressure
is then measured in the gauge's own scale, `y = ∫ dp / s(p)`, where `s² = 1.6 noise²/m + (step/2)² + wander² + (0.2 %
p)²` for means of `m` readings (`phases/scale.py`), and the log is thinned to one or two hundred such means, finer where
the pressure moves (`phases/knots.py`).

The cheapest path through {above range, pumped, held, let in, standing} is sought, by a dynamic programme over all
segments: each segment costs one *turn* (4.5 scales), and what goes against its nature: under the pump its largest rise
back; in a hold its largest fall back, and what it gains while rising ten times faster than so far; both less the
largest single move within 4.5 %, for so a gauge jumps where it changes its range. A wrong reading costs half a turn,
and a segment shorter than 20 s and 12 readings one more: short events cost, they do not cut. A hold is entered from the
pump alone, and left only where the pressure shows by what: a fall or a rise three times faster than the hold's own, or
a drop from one reading to the next. Nothing enters a hold twice: what follows a step is unclear.

The edges are then moved to the reading (`phases/course.py`, `phases/closings.py`): the closing by the best cut between
a pull's tail and a line with one settling step, its doubt by the closings that fit as well, where neighbouring misfits
that look alike count for less than independent ones; it is sought where the path has it for two turns at most. Where
fewer than twelve readings show the pull or the hold, as in a log written down by hand, it lies beside the last of the
lowest readings; the quietest stretch of such a log tells the noise, for the pull bends between its readings, and what
is off by less than a factor of two is no wrong reading.

A rise whose upper half goes about as slowly as it came, from a rounded top, is a hump under the pump and no hold. A
pull that shows no turn at its end may still be a hold, by the whole of its rise or because its fall ends too soon:
sooner than what it still had to fall by the two stretches before, and not by heights above its end that shrink ever
more slowly, as those of a pump that comes to its limit do (`phases/flat.py`). Else it is unclear, with the moments at
which the valve may have been closed. What the log itself says of its valve goes first (`phases/stated.py`).

Whether only a closed valve leaves such readings is asked of every hold found (`phases/flat.py`): it rises on evenly by
30 % of what it settled at, doubles it with a half-time of five minutes, rises where a definite fall was to go on, or
leaves the range. Of what does not, nearly every tight dry hold, P19 asks for a confirmation. It withholds nothing where
a step or the end of a fall marks the closing (`phases/rises.py`); where nothing does, the answer waits for it.

A hold that stands at first and rises then may have been pumped for so long, for the rate of a hold only falls
(`phases/rises.py`). A closing that may lie later lends a stand nothing: what counts is the time that is sure
(`judge/about_hold.py`).
"""

from decay.phases.find import find_phases
from decay.phases.phase import Kind, Phase
from decay.phases.stated import hold_between
