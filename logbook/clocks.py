"""A time of day as a sheet shows it."""

from datetime import datetime, tzinfo


def clock(instant: datetime, zone: tzinfo) -> str:
    """'14:00'; in the hour that comes twice with its offset, '02:00 +0200'."""
    local = instant.astimezone(zone)
    return f"{local:%H:%M %z}" if is_repeated(local) else f"{local:%H:%M}"


def is_repeated(local: datetime) -> bool:
    """Whether this wall time comes twice, when clocks are set back."""
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()
