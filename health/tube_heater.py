"""The filament readings of one tube day by day: the seam from the summaries to ``rules.heater``."""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from health.models import Summary
from health.rules.heater import Heater, heater_of
from health.statistics.summaries import Grain
from logbook.hour_book import narrowest
from logbook.times import instant_of, minute_of
from station.models import Meter, Socket

LONGEST = timedelta(days=365)
DAY = timedelta(days=1)
VOLTS, AMPS = "filament_voltage", "filament_current"


def tube_heater(
    socket: Socket,
    since: datetime,
    now: datetime,
    hours_at: Callable[[Sequence[datetime]], np.ndarray],
) -> Heater:
    """What the last year of a stay says; ``hours_at`` gives the tube's filament hours."""
    meters = filament_meters(socket)
    if None in meters:
        return Heater(days=0)
    # The day on which it was put in is half another tube's.
    begin = max(since + DAY, now - LONGEST)
    frame = daily([meter.pk for meter in meters if meter], minute_of(begin))
    days = frame.index.to_numpy() // minute_of(instant_of(0) + DAY)
    ends = [instant_of(int(bucket)) + DAY for bucket in frame.index]
    volts, amps = (frame[meter.pk].to_numpy() for meter in meters if meter)
    return heater_of(days, volts, amps, hours_at(ends))


def filament_meters(socket: Socket) -> list[Meter | None]:
    """Its voltmeter and ammeter, or those of its stage or transmitter; None where there is none."""
    own = Meter.objects.filter(transmitter=socket.stage.transmitter_id, quantity__in=(VOLTS, AMPS))
    meters = list(own)
    return [
        narrowest((one for one in meters if one.quantity == quantity), socket)
        for quantity in (VOLTS, AMPS)
    ]


def daily(meter_ids: Sequence[int], since: int) -> pd.DataFrame:
    """By day (its first minute) and meter, the median over the waves, each by its readings."""
    rows = Summary.objects.filter(
        meter__in=meter_ids,
        grain=Grain.DAY,
        bucket__gte=since,
        frequency_khz__gt=0,
        median__isnull=False,
    ).values_list("meter_id", "bucket", "n", "median")
    frame = pd.DataFrame(list(rows), columns=["meter", "bucket", "n", "median"])
    frame["weighed"] = frame["median"] * frame["n"]
    sums = frame.groupby(["bucket", "meter"])[["weighed", "n"]].sum()
    table = (sums["weighed"] / sums["n"]).unstack()
    return table.reindex(columns=list(meter_ids)).astype(float).sort_index()
