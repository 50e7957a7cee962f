"""The finding that grades a leak which the interval leaves open: odds with their priors, which decide nothing."""

from __future__ import annotations

from decay import wording
from decay.fit.odds import PRIORS, Grade
from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.rule import Answer

_GRADES = {
    Grade.LIKELY: "A leak is likely: its odds are",
    Grade.UNLIKELY: "A leak is unlikely: its odds are",
    Grade.OPEN: "The odds of a leak are",
}


def odds(case: Case) -> Answer:
    """
    What it looks for
        A hold that the interval leaves open: how much likelier are its readings with a leak than without one? From
        95 % on the leak is graded as likely, down from 5 % as unlikely.
    Why it matters
        It says where to look first: for a hole, or for water and oil. It never passes and never fails anything.
    When it is wrong
        Where the system is unlike what was assumed beforehand. With and without a leak weigh the same. A leak makes
        0.5 to 200 micron/min. What else gives off gas is, with equal weight, one of three: dry walls, 0.02 to 0.4
        micron/min after an hour and fading as t^-0.8 to t^-1.2; these with damp walls, 0.3 to 10 and t^-0.5 to t^-1.1,
        and in 7 of 10 cases a pool that levels off at 5 to 1,500 micron with a time constant of 0.05 to 1 hold; or
        dry walls and a pool that fades with one of 0.5 to 15 holds from 1 to 300 micron/min. All sizes are as likely
        in one octave as in the next. A slower source is graded as a leak.
    Example log
        Half an hour from 320 to 470 micron, bent at first and straight for the last twenty minutes.
    What to do
        Take the first next step: it settles what the odds only grade.
    References
        Kass and Raftery, Journal of the American Statistical Association 90 (1995) 773, for Bayes factors. The priors
        are assumed, no source; how often they came true in simulated jobs stands in the developers' guide.
    """
    found = case.odds
    if found is None:
        return ()
    summary = (
        f"{_GRADES[found.grade]} {wording.chance(found.probability)}, if before the test {PRIORS}. A slower "
        "source would be graded as a leak; the odds decide nothing."
    )
    return (Finding("H20", Level.NOTE, summary, {"odds_of_leak": found.probability}),)
