"""The transmissions of a day: what was on the air against what was scheduled."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import pandas as pd

from health.statistics.availability import Span, common, without
from logbook.frames import standing_points_of_all
from logbook.interruptions import Loss, losses
from logbook.models import Entry, Kind
from station.broadcasts import Broadcast
from station.models import Authorisation, Station, Transmitter
from station.schedules import broadcasts_of
from station.states import ON_AIR_STATES

# A difference of less is the clock's and the hand's.
TOLERANCE_S = 60.0
NEAR = timedelta(minutes=5)


@dataclass(frozen=True)
class OnAir:
    """One stretch on one wave; the last of a running day ends now."""

    transmitter_id: int
    frequency_khz: float
    antenna: str
    power_kw: float | None
    begin: datetime
    end: datetime


@dataclass(frozen=True)
class Difference:
    """``kind``: 'not-on-air', 'not-scheduled', 'not-authorised'; open without explanations."""

    kind: str
    begin: datetime
    end: datetime
    frequency_khz: float
    explained_by: tuple[Entry, ...]


@dataclass(frozen=True)
class DayOfTransmitter:
    transmitter: Transmitter
    scheduled: tuple[Broadcast, ...]
    on_air: tuple[OnAir, ...]
    differences: tuple[Difference, ...]


@dataclass(frozen=True)
class DayOfTransmissions:
    since: datetime
    until: datetime
    days: tuple[DayOfTransmitter, ...]


def build_transmissions(
    station: Station, since: datetime, until: datetime, now: datetime
) -> DayOfTransmissions:
    """As many queries for three transmitters as for twelve."""
    last = min(until, now)
    transmitters = list(Transmitter.objects.filter(station=station).select_related("station"))
    standing = standing_points_of_all(transmitters, since)
    planned = broadcasts_of(station, since, last) if since < last else []
    tellings = explanations(station, since, last)
    authorised = list(Authorisation.objects.filter(station=station))
    return DayOfTransmissions(
        since,
        until,
        tuple(
            day_of(
                one,
                tuple(b for b in planned if b.line.transmitter_id == one.pk),
                tuple(on_air_spans(one.pk, standing[one.pk], since, last)),
                tellings.get(one.pk, []),
                [a for a in authorised if a.transmitter_id == one.pk],
            )
            for one in transmitters
        ),
    )


def on_air_spans(
    transmitter_id: int, standing: pd.DataFrame, since: datetime, until: datetime
) -> Iterable[OnAir]:
    """The stretches of one wave in since <= t < until, by the state log."""
    found: list[OnAir] = []
    ends = [*standing["observed_at"].iloc[1:], pd.Timestamp(until)]
    for row, end in zip(standing.itertuples(), ends, strict=True) if len(standing) else ():
        begin, stop = max(row.observed_at, since), min(end, until)
        if row.state not in ON_AIR_STATES or pd.isna(row.frequency_khz) or begin >= stop:
            continue
        power = None if pd.isna(row.power_kw) else float(row.power_kw)
        one = OnAir(
            transmitter_id,
            float(row.frequency_khz),
            row.antenna or "",
            power,
            pd.Timestamp(begin).to_pydatetime(),
            pd.Timestamp(stop).to_pydatetime(),
        )
        if found and continues(found[-1], one):
            one = OnAir(**{**vars(one), "begin": found.pop().begin})
        found.append(one)
    return found


def continues(one: OnAir, following: OnAir) -> bool:
    same = ("frequency_khz", "antenna", "power_kw")
    return one.end == following.begin and all(
        getattr(one, name) == getattr(following, name) for name in same
    )


def day_of(
    transmitter: Transmitter,
    scheduled: tuple[Broadcast, ...],
    on_air: tuple[OnAir, ...],
    tellings: Sequence[Loss | Entry],
    authorised: Sequence[Authorisation],
) -> DayOfTransmitter:
    waves = {b.line.frequency_khz for b in scheduled} | {one.frequency_khz for one in on_air}
    differences = [
        Difference(kind, instant(begin), instant(end), khz, explaining(tellings, begin, end))
        for khz in waves
        for kind, begin, end in of_wave(khz, scheduled, on_air)
    ]
    differences += [
        Difference(
            "not-authorised",
            one.begin,
            one.end,
            one.frequency_khz,
            remarks_within(tellings, one.begin.timestamp(), one.end.timestamp()),
        )
        for one in on_air
        if authorised and not is_authorised(one, authorised)
    ]
    ordered = sorted(differences, key=lambda one: (one.begin, one.kind))
    return DayOfTransmitter(transmitter, scheduled, on_air, tuple(ordered))


def of_wave(
    khz: float, scheduled: Iterable[Broadcast], on_air: Iterable[OnAir]
) -> Iterable[tuple[str, float, float]]:
    """What one wave was missed and what it was on beside the schedule, longer than a minute."""
    asked = [seconds(b.begin, b.end) for b in scheduled if b.line.frequency_khz == khz]
    given = [seconds(one.begin, one.end) for one in on_air if one.frequency_khz == khz]
    for kind, spans in (
        ("not-on-air", without(asked, given)),
        ("not-scheduled", without(given, asked)),
    ):
        yield from ((kind, *span) for span in spans if span[1] - span[0] > TOLERANCE_S)


def is_authorised(one: OnAir, authorised: Iterable[Authorisation]) -> bool:
    """The antenna is held against an authorisation by its code."""
    return any(
        a.covers(one.frequency_khz, one.power_kw, None, one.begin.date()) for a in authorised
    )


def seconds(begin: datetime, end: datetime) -> Span:
    return begin.timestamp(), end.timestamp()


def instant(stamp: float) -> datetime:
    return datetime.fromtimestamp(stamp, UTC)


def explanations(
    station: Station, since: datetime, until: datetime
) -> Mapping[int, list[Loss | Entry]]:
    """Interruptions and remarks of each transmitter that may explain a difference."""
    found: dict[int, list[Loss | Entry]] = {}
    for loss in losses(station, since, until):
        found.setdefault(loss.entry.transmitter_id, []).append(loss)
    remarks = Entry.objects.current().filter(
        station=station,
        kind=Kind.REMARK,
        transmitter__isnull=False,
        observed_at__gte=since - NEAR,
        observed_at__lt=until + NEAR,
    )
    for entry in remarks.select_related("remark").order_by("no"):
        found.setdefault(entry.transmitter_id, []).append(entry)
    return found


def explaining(tellings: Iterable[Loss | Entry], begin: float, end: float) -> tuple[Entry, ...]:
    """Interruptions that overlap the span and remarks that were written about a time within it."""
    told = list(tellings)
    of_losses = tuple(
        one.entry
        for one in told
        if isinstance(one, Loss) and common([(begin, end)], [loss_span(one, end)])
    )
    return of_losses + remarks_within(told, begin, end)


def loss_span(loss: Loss, last: float) -> Span:
    begin = loss.begin.timestamp()
    return begin, loss.end.timestamp() if loss.end else max(last, begin)


def remarks_within(tellings: Iterable[Loss | Entry], begin: float, end: float) -> tuple[Entry, ...]:
    near = NEAR.total_seconds()
    return tuple(
        one
        for one in tellings
        if isinstance(one, Entry) and begin - near <= one.observed_at.timestamp() <= end + near
    )
