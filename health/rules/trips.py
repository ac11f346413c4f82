"""Which flags a trip brought along. Pure."""

from bisect import bisect_right
from collections.abc import Sequence

AFTER_MIN = 2
"""How long after a trip a flag may begin that hangs under it: common practice, no source."""


def trip_before(minute: int, trips: Sequence[int]) -> int | None:
    """The trip under which a flag hangs.

    Parameters
    ----------
    minute : int [min]
        At which the flag began.
    trips : sequence of int [min]
        In order.

    Returns
    -------
    int or None
        The place of the last trip within the same minute or the AFTER_MIN before it.

    Source
    ------
    ISA-18.2, consequential alarms (from memory).

    Example
    -------
    >>> [trip_before(minute, [100, 200]) for minute in (99, 100, 102, 103, 201)]
    [None, 0, 0, None, 1]
    """
    place = bisect_right(trips, minute) - 1
    return place if place >= 0 and minute - trips[place] <= AFTER_MIN else None
