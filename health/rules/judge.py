"""All rules in one pure call: the same for the save of one round and for the whole log."""

from dataclasses import dataclass

import pandas as pd

from health.rules.episode import Episode
from health.rules.limits import judge_limits


@dataclass(frozen=True)
class Carry:
    """What the rules remember from one frame to the next: the episodes that stand."""

    standing: tuple[Episode, ...] = ()


def judge(frame: pd.DataFrame, carry: Carry) -> tuple[list[Episode], Carry]:
    """Judge the readings of one transmitter in the order of their minutes.

    Parameters
    ----------
    frame : DataFrame
        As ``judge_limits`` asks for. A round's frame and the whole log's have the same shape.
    carry : Carry
        What the judgement of everything before ``frame`` left; ``Carry()`` at the beginning.

    Returns
    -------
    (list of Episode, Carry)
        The episodes that stood, began or ended in the frame, and what to remember after it.

    Notes
    -----
    Judging two frames one after the other gives what judging both at once gives.
    """
    episodes = judge_limits(frame, list(carry.standing))
    return episodes, Carry(tuple(episode for episode in episodes if episode.until is None))
