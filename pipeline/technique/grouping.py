"""Which of the things that meet a driver belong to one call."""

from collections.abc import Iterable

from pipeline.technique.settings import Calls

__all__ = ["grouped"]


def grouped(places: Iterable[tuple[float, bool]], rule: Calls) -> list[list[int]]:
    """Put what meets a driver together into calls.

    A call takes in what begins within the spacing of its first thing; what is kept apart (a spotter, a turn-round) and
    lies farther off than the merging distance begins a call of its own, because its place matters.

    Parameters
    ----------
    places
        Distance where each begins, m, ascending, and whether it is kept apart.
    rule
        Spacing and merging distance.

    Returns
    -------
    list
        Numbers of the things of each call, from 0, in driving order.
    """
    groups: list[list[int]] = []
    begun = 0.0
    for number, (at_m, kept) in enumerate(places):
        if groups and at_m - begun <= (rule.merge_m if kept else rule.spacing_m):
            groups[-1].append(number)
        else:
            groups.append([number])
            begun = at_m
    return groups
