"""Long iterations in handy pieces."""

from collections.abc import Iterable, Iterator
from itertools import islice
from typing import TypeVar

Item = TypeVar("Item")


def batched(items: Iterable[Item], size: int) -> Iterator[list[Item]]:
    """Lists of ``size`` items, the last one shorter.

    Example
    -------
    >>> list(batched("abcde", 2))
    [['a', 'b'], ['c', 'd'], ['e']]
    """
    remaining = iter(items)
    while batch := list(islice(remaining, size)):
        yield batch
