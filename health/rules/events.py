"""Which channels an event begins anew. Pure."""

from collections.abc import Sequence

from health.rules.channels import DIALS, Channel, Heeds


def of_tube(channels: Sequence[Channel], stage: str, socket: str) -> list[str]:
    """The channels that speak of the tube of a socket: its own, its stage's, the dials.

    Source: common practice, no source: another tube has another capacity, so every dial moves.
    """
    return [one.key for one in channels if speaks_of(one, stage, socket)]


def speaks_of(channel: Channel, stage: str, socket: str) -> bool:
    if channel.quantity in DIALS:
        return True
    if channel.socket:
        return channel.socket == socket
    return bool(channel.stage) and channel.stage == stage and channel.heeds != Heeds.NOTHING


def of_meter(channels: Sequence[Channel], meter_id: int) -> list[str]:
    """The channels that an instrument stands behind."""
    return [one.key for one in channels if meter_id in one.meter_ids]
