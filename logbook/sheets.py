"""How the meters of a transmitter are parted over the pages of a printed sheet. Pure."""

from collections.abc import Sequence
from itertools import groupby

from station.models import Meter

MOST_COLUMNS = 14  # that are still legible on A4 across, beside the columns of times and names


def split_meters(meters: Sequence[Meter], most: int = MOST_COLUMNS) -> list[list[Meter]]:
    """Parts of at most ``most`` meters in order; a panel group is parted only if it must be."""
    parts: list[list[Meter]] = [[]]
    for block in blocks(meters, most):
        if len(parts[-1]) + len(block) > most:
            parts.append([])
        parts[-1].extend(block)
    return parts


def blocks(meters: Sequence[Meter], most: int) -> list[list[Meter]]:
    """Panel groups, those longer than a page cut to its length."""
    groups = [list(group) for _name, group in groupby(meters, key=lambda m: m.panel_group)]
    return [group[start : start + most] for group in groups for start in range(0, len(group), most)]
