"""One cause, one flag: what begins within two days on one transmitter is shown together. Pure."""

from collections.abc import Callable, Iterable
from typing import TypeVar

LONGEST_MIN = 2 * 24 * 60
"""How long a group may last: a longer one would hide a second cause."""

Flag = TypeVar("Flag")


def grouped(flags: Iterable[Flag], begin: Callable[[Flag], int]) -> list[list[Flag]]:
    """Flags of one transmitter by what is taken for one cause.

    Parameters
    ----------
    flags : iterable
    begin : callable
        The minute at which a flag began.

    Returns
    -------
    list of list
        Each in the order of begin; every flag is in just one.

    Notes
    -----
    A group begins with its first flag and takes what begins within LONGEST_MIN after it.

    Source
    ------
    IEC 62682, consequential alarms under the first (from memory); the length derived here.

    Example
    -------
    >>> grouped([3000, 0, 60], begin=lambda minute: minute)
    [[0, 60], [3000]]
    """
    groups: list[list[Flag]] = []
    for one in sorted(flags, key=begin):
        if groups and begin(one) - begin(groups[-1][0]) <= LONGEST_MIN:
            groups[-1].append(one)
        else:
            groups.append([one])
    return groups
