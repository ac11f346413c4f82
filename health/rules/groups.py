"""One cause, one flag: what begins within two days on one transmitter is shown together. Pure."""

from collections.abc import Iterable

from health.rules.episode import Episode

LONGEST_MIN = 2 * 24 * 60
"""How long a group may last: a longer one would hide a second cause."""


def grouped(episodes: Iterable[Episode]) -> list[list[Episode]]:
    """Episodes of one transmitter by what is taken for one cause.

    Parameters
    ----------
    episodes : iterable of Episode

    Returns
    -------
    list of list of Episode
        Each in the order of begin; every episode is in just one.

    Notes
    -----
    A group begins with its first flag and takes what begins within LONGEST_MIN after it.

    Source
    ------
    IEC 62682, consequential alarms under the first (from memory); the length derived here.

    Example
    -------
    >>> flags = [Episode("shift", 1, no, since, None, "low") for no, since in ((1, 0), (2, 60))]
    >>> later = Episode("shift", 2, 9, 3000, None, "low")
    >>> [len(group) for group in grouped([later, *flags])]
    [2, 1]
    """
    groups: list[list[Episode]] = []
    for one in sorted(episodes, key=lambda one: (one.since, one.first_no, one.meter_id)):
        if groups and one.since - groups[-1][0].since <= LONGEST_MIN:
            groups[-1].append(one)
        else:
            groups.append([one])
    return groups
