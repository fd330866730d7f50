"""A plan's ways back -> what one operator error does to each: its slips, tried as if the way were a plan of its own.

A way starts where the last step that it serves has led, with the joining units leaving, and ends at the baseline. Its
replay goes on through the ways that it goes on with; a slip of their steps is theirs.
"""

from rules import baseline_breaches
from slips import HARMLESS, Slips, Verdict, slip_claims, tally
from ways import by_step, onward


class SlipsBack(Slips):
    """Every slip of the own steps of one way back."""

    def __init__(self, plan, start, steps, own):
        self.start = start
        super().__init__(plan, frozenset(), steps, own)

    def beginning(self):
        return self.start

    def found(self, replay, index, report):
        """No stack is founded on a way back."""

    def end(self, replay):
        """The end is the baseline, which leaves nothing to be cured."""
        if baseline_breaches(self.plan, replay.view):
            return Verdict("dangerous", frozenset(("reaches-target",)))
        return HARMLESS


def slips_of_ways(plan, forward):
    """The `Slips` of each way back, None where it leads nowhere; `forward` has replayed the plan itself."""
    way_after, found = by_step(plan.ways_back), []
    for way in plan.ways_back:
        try:
            steps = [step for _, _, step in onward(way_after, way)]
        except LookupError:
            found.append(None)
            continue
        start = forward.points[way["after"][1]].fork_back()
        found.append(SlipsBack(plan, start, steps, len(way["steps"])))
    return found


def try_slips_back(plan, forward):
    """What the slips of each way back do: per way the pair of `tally`, None where the way has a fault without one."""
    return [slips and tally(slips) for slips in slips_of_ways(plan, forward)]


def slip_claims_back(said, tried):
    """Where the plan's own `ways_back_slips` are not what the replays found: sentences."""
    if len(said) != len(tried):
        return [f"ways_back_slips speaks of {len(said)} ways back, and there are {len(tried)}"]
    wrong = []
    for position, (own, true) in enumerate(zip(said, tried)):
        if true is not None:
            wrong += [f"ways_back_slips[{position}]: {what}" for what in slip_claims(own, *true)]
    return wrong
