"""Ways back of a plan: which one belongs to a step, and all steps from there to the baseline."""


def by_step(ways):
    """The way back of each step that has one; of two that claim a step the later."""
    return {number: way for way in ways for number in range(way["after"][0], way["after"][1] + 1)}


def onward(way_after, way):
    """The steps of a way back and of those that it goes on with: (first and last step served, index in it, step)."""
    found, walked = [], set()
    while way["after"] not in walked:
        walked.add(way["after"])
        found += [(way["after"], index, step) for index, step in enumerate(way["steps"])]
        number = way["then"]
        if number is None:
            return found
        way = way_after.get(number)
        if way is None:
            raise LookupError(f"it goes on with step {number}, which has no way back")
    raise LookupError(f"it goes round in a circle by step {number}")
