"""Which channels an event begins anew, and where. Pure."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from health.rules.channels import DIALS, Channel, Heeds

MOVED_BY_WORK = frozenset({Heeds.WAVE, Heeds.AERIAL})


@dataclass(frozen=True)
class Event:
    """What begins baselines anew on a day, numbered from 1970 UTC.

    ``keys`` are the channels; ``at`` the waves or the antenna, as the places' words have them:
    none is everywhere.
    """

    day: int
    keys: frozenset[str]
    at: frozenset[str] = frozenset()

    def touches(self, key: str, place: str) -> bool:
        """Whether it begins a channel anew at a place, whose last two words are the power."""
        return key in self.keys and (not self.at or not self.at.isdisjoint(place.split(" ")[:-2]))


class Begun:
    """By channel and place, the day of the newest of some events; 0 for none."""

    def __init__(self, events: Iterable[Event]) -> None:
        ordered = sorted(events, key=lambda one: one.day)
        self.everywhere = {key: one.day for one in ordered if not one.at for key in one.keys}
        self.somewhere = [one for one in ordered if one.at]

    def of(self, key: str) -> int:
        """The newest event of a channel that holds everywhere."""
        return self.everywhere.get(key, 0)

    def at(self, key: str, place: str) -> int:
        there = (one.day for one in self.somewhere if one.touches(key, place))
        return max(self.of(key), *there, 0)


def of_tube(channels: Sequence[Channel], stage: str, socket: str) -> frozenset[str]:
    """The channels that speak of the tube of a socket: its own, its stage's, the dials.

    Source: common practice, no source: another tube has another capacity, so every dial moves.
    """
    return frozenset(one.key for one in channels if speaks_of(one, stage, socket))


def speaks_of(channel: Channel, stage: str, socket: str) -> bool:
    if channel.quantity in DIALS:
        return True
    if channel.socket:
        return channel.socket == socket
    return bool(channel.stage) and channel.stage == stage and channel.heeds != Heeds.NOTHING


def of_meter(channels: Sequence[Channel], meter_id: int) -> frozenset[str]:
    """The channels that an instrument stands behind."""
    return frozenset(one.key for one in channels if meter_id in one.meter_ids)


def of_work(channels: Sequence[Channel]) -> frozenset[str]:
    """The channels that work on a coil set or on an antenna can move: those that heed the wave."""
    return frozenset(one.key for one in channels if one.heeds in MOVED_BY_WORK)
