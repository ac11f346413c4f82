"""The seam from the log's tables to the judge's sheets: meters, rounds, weather."""

from datetime import datetime
from math import nan

import numpy as np
import numpy.typing as npt
import pandas as pd

from health.rules.channels import Channel, MeterFacts, channels_of
from health.rules.consistency import relation_channels
from health.rules.sheets import Rounds
from health.spans import Span
from logbook.models.check import CheckMade, Topic
from logbook.models.round import Mark
from logbook.points import points_at
from logbook.times import instant_of, minute_of
from station.limits import LimitBook, Place
from station.models import Meter
from station.states import ON_AIR_STATES, Modulation, PowerSetBy, State

UNITS_W = {"kW": 1000.0, "W": 1.0}
WET = frozenset({"rain", "mist", "snow", "ice", "storm"})
WEATHER_HOLDS_MIN = 12 * 60
"""How long a weather that was written holds: common practice, no source."""


def meter_facts(book: LimitBook, at: datetime) -> dict[int, MeterFacts]:
    """What the rules must know of each meter of a transmitter, by its id."""
    return {meter.pk: facts_of(book, meter, at) for meter in book.meters}


def facts_of(book: LimitBook, meter: Meter, at: datetime) -> MeterFacts:
    instrument = book.instrument(meter, at)
    step = step_of(book, meter, at)
    full = instrument.full_scale if instrument else 1.0
    lower = instrument.lower_full_scale if instrument else None
    full_power = book.transmitter.full_power_kw
    place = Place(State.ON_AIR, None, full_power, PowerSetBy.TAP, Modulation.CARRIER)
    return MeterFacts(
        meter_id=meter.pk,
        code=meter.code,
        quantity=meter.quantity,
        live=meter.quantity_facts.live,
        tap_exponent=meter.quantity_facts.tap_exponent,
        moves=meter.moves,
        occasion=meter.occasion,
        stage=meter.stage.code if meter.stage else "",
        socket=meter.socket.code if meter.socket else "",
        includes=meter.includes,
        step=step,
        # The scale's divisions are as many on the upper range.
        upper_step=step * full / lower if lower else step,
        error=instrument.error_for(full) if instrument else 0.0,
        usual=book.normal(meter, place) or full / 2,
        unit_w=UNITS_W.get(meter.unit, 1.0),
        line_ohm=nan if meter.line_ohm is None else meter.line_ohm,
    )


def step_of(book: LimitBook, meter: Meter, at: datetime) -> float:
    """The smallest step of a meter, in its unit."""
    instrument = book.instrument(meter, at)
    return instrument.step if instrument else 10.0**-meter.decimals


def channels_at(facts: dict[int, MeterFacts]) -> tuple[Channel, ...]:
    meters = list(facts.values())
    return (*channels_of(meters), *relation_channels(meters))


def rounds_of(book: LimitBook, span: Span, *, ahead: tuple[int, str] | None = None) -> Rounds:
    """Readings as rounds: one that is off scale, or no number, is missing.

    ``ahead``, minute and modulation, adds a round of which nothing is read yet.
    """
    frame, meter_ids = span.readings, [meter.pk for meter in book.meters]
    of_round, no = pd.factorize(frame["no"])
    column = pd.Index(meter_ids).get_indexer(frame["meter_id"])
    values = np.full((no.size + 1, len(meter_ids)), np.nan)
    values[of_round, column] = frame["value"].where(frame["bound"].eq(""))
    is_confirmed = np.zeros(values.shape, dtype=bool)
    is_confirmed[of_round, column] = frame["mark"].eq(Mark.CONFIRMED)
    first = frame.drop_duplicates("no")
    next_minute, next_modulation = ahead or (0, "")
    minute = np.append(first["minute"].to_numpy(np.int64), next_minute)
    points = points_at(span.standing, minute)
    rounds = Rounds(
        minute=minute,
        no=np.append(np.asarray(no, dtype=np.int64), 0),
        values=pd.DataFrame(values, columns=meter_ids),
        is_confirmed=pd.DataFrame(is_confirmed, columns=meter_ids),
        modulation=np.append(first["modulation"].to_numpy(object), next_modulation),
        is_wet=is_wet(book.transmitter.station_id, minute, span.begin, span.until),
        points=points,
        is_on_air=points["state"].isin(ON_AIR_STATES).to_numpy(),
        rf_ends=span.rf_ends,
    )
    return rounds if ahead else rounds.taken(slice(0, -1))


def is_wet(
    station_id: int, minutes: npt.NDArray[np.int64], since: int, until: int
) -> npt.NDArray[np.bool_]:
    """Whether the weather last written before each minute wets the aerials."""
    told = CheckMade.objects.filter(
        station=station_id,
        topic=Topic.WEATHER,
        entry__ended_by__isnull=True,
        entry__observed_at__gte=instant_of(since - WEATHER_HOLDS_MIN),
        entry__observed_at__lt=instant_of(until),
    )
    rows = list(told.order_by("entry__observed_at").values_list("entry__observed_at", "facts"))
    at = np.array([-WEATHER_HOLDS_MIN, *(minute_of(instant) for instant, _facts in rows)])
    wets = np.array([False, *(facts.get("code") in WET for _instant, facts in rows)])
    last = np.searchsorted(at, minutes, side="right") - 1
    return np.asarray(wets[last] & (minutes - at[last] <= WEATHER_HOLDS_MIN))
