"""A flag's state: its episode folded with what people did about it. Pure.

Source: the states of an alarm in IEC 62682 (from memory).
"""

from collections.abc import Iterable
from enum import StrEnum


class Life(StrEnum):
    """Names are those of the parts that draw them."""

    OPEN = "open"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_OPEN = "returned-open"
    RETURNED = "returned"
    CLOSED = "closed"


NEEDS_A_PERSON = frozenset({Life.OPEN, Life.RETURNED_OPEN})


def life_of(*, is_standing: bool, verbs: Iterable[str]) -> Life:
    """The state of a flag.

    Parameters
    ----------
    is_standing : bool
        The value has not returned.
    verbs : iterable of str
        'acknowledge' and 'close' in the order in which they were written.

    Returns
    -------
    Life
        An acknowledged flag stays until its value returns; a closed one that still stands is
        acknowledged, because closing is no repair.

    Example
    -------
    >>> life_of(is_standing=True, verbs=["acknowledge"]).value
    'acknowledged'
    """
    done = set(verbs)
    if is_standing:
        return Life.ACKNOWLEDGED if done else Life.OPEN
    if "close" in done:
        return Life.CLOSED
    return Life.RETURNED if done else Life.RETURNED_OPEN
