"""A flag's state: its episode folded with what people did about it. Pure.

Source: the states of an alarm in IEC 62682 and OPC UA Part 9 (both from memory), in plain words.
"""

from collections.abc import Iterable
from enum import StrEnum


class Life(StrEnum):
    """Names are those of the parts that draw them."""

    OPEN = "open"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_OPEN = "returned-open"
    RETURNED = "returned"
    LATCHED = "latched"
    CLOSED = "closed"
    SHELVED = "shelved"
    OUT_OF_SERVICE = "out-of-service"
    SUPPRESSED = "suppressed"


NEEDS_A_PERSON = frozenset({Life.OPEN, Life.RETURNED_OPEN, Life.LATCHED})
SET_ASIDE = frozenset({Life.SHELVED, Life.OUT_OF_SERVICE})
SEEN = frozenset({"acknowledge", "close", "reset"})
"""What somebody does who has looked at the flag; a shelf is none of it."""


def life_of(
    *,
    is_standing: bool,
    verbs: Iterable[str],
    set_aside: str = "",
    is_latched: bool = False,
    is_suppressed: bool = False,
    returned_aside: bool = False,
) -> Life:
    """The state of a flag.

    Parameters
    ----------
    is_standing : bool
        The value has not returned.
    verbs : iterable of str
        'acknowledge', 'reset' and 'close' in the order in which they were written; of a flag that
        stands, those since it last came back from the shelf or from out of service.
    set_aside : str
        'shelved' or 'out-of-service' now, '' for neither.
    is_latched : bool
        Its kind wants a reset after an inspection.
    is_suppressed : bool
        The state ended it, or suppresses its meter now: it says nothing there.
    returned_aside : bool
        Its value returned while it was set aside.

    Returns
    -------
    Life
        An acknowledged flag stays until its value returns; a closed one that still stands is
        acknowledged, because closing is no repair. A latched kind wants its inspection even where
        the state ended it. What came and went on the shelf asks nobody.

    Example
    -------
    >>> life_of(is_standing=True, verbs=["acknowledge"]).value
    'acknowledged'
    >>> life_of(is_standing=True, verbs=[], set_aside="shelved").value
    'shelved'
    """
    done = SEEN & set(verbs)
    if is_standing and set_aside:
        return Life(set_aside)
    if is_standing and not is_suppressed:
        return Life.ACKNOWLEDGED if done else Life.OPEN
    if "close" in done and not is_standing:
        return Life.CLOSED
    if is_latched and "reset" not in done:
        return Life.LATCHED
    if is_suppressed:
        return Life.SUPPRESSED
    return Life.RETURNED if done or returned_aside else Life.RETURNED_OPEN
