"""Which tube stood in which socket, from when to when, folded from the moves. Pure."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby


@dataclass(frozen=True)
class Move:
    """A tube goes from a socket to a socket; None is no socket: the shelf, or away for good.

    ``no`` is the number of its entry, 0 for a move that is not written yet.
    """

    tube: int
    from_socket: int | None
    to_socket: int | None
    at: datetime
    no: int = 0


@dataclass(frozen=True)
class Stay:
    """A tube in a socket; ``until`` and ``out_no`` are None while it stands there."""

    tube: int
    socket: int
    since: datetime
    in_no: int
    until: datetime | None = None
    out_no: int | None = None


@dataclass(frozen=True)
class Conflict:
    """A move that cannot have been: the tube stood elsewhere, or the socket was taken.

    ``found`` is the socket in which the tube stood (None: in none), or the tube that stood in
    the socket, whichever ``is_taken`` says.
    """

    move: Move
    is_taken: bool
    found: int | None


def stays(moves: Iterable[Move]) -> list[Stay]:
    """The stays that the moves make, in the order of their beginning."""
    standing: dict[int, Stay] = {}
    ended: list[Stay] = []
    for together in _by_instant(moves):
        for move in together:
            if move.tube in standing:
                ended.append(_left(standing.pop(move.tube), move))
        for move in together:
            if move.to_socket is not None:
                standing[move.tube] = Stay(move.tube, move.to_socket, move.at, move.no)
    return sorted([*ended, *standing.values()], key=lambda stay: (stay.since, stay.in_no))


def _left(stay: Stay, move: Move) -> Stay:
    return Stay(stay.tube, stay.socket, stay.since, stay.in_no, move.at, move.no)


def first_conflict(moves: Iterable[Move]) -> Conflict | None:
    """The first move that contradicts those before it; moves of one instant go together."""
    place: dict[int, int] = {}
    holder: dict[int, int] = {}
    for together in _by_instant(moves):
        for move in together:
            if place.get(move.tube) != move.from_socket:
                return Conflict(move, is_taken=False, found=place.get(move.tube))
            if move.from_socket is not None:
                del place[move.tube], holder[move.from_socket]
        for move in together:
            if move.to_socket is None:
                continue
            if move.to_socket in holder or move.tube in place:
                return Conflict(move, is_taken=True, found=holder.get(move.to_socket))
            place[move.tube], holder[move.to_socket] = move.to_socket, move.tube
    return None


def _by_instant(moves: Iterable[Move]) -> Iterator[list[Move]]:
    ordered = sorted(moves, key=lambda move: (move.at, move.no))
    for _at, together in groupby(ordered, key=lambda move: move.at):
        yield list(together)
