"""References: what each meter reads at each operating point, learned once a day, and asked for.

Learned from the four weeks before the begin of a day, so nothing of the day that is judged looks
into its own future. A tube or an instrument that was changed begins them anew.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt
import pandas as pd
from django.db.models import Max, Q

from health.models import Judging, MeterReference
from health.rules.expected import Expected, Reference, believed, expected, references
from health.statistics.summaries import Grain, bucket_begin
from logbook.frames import reading_frame, standing_points
from logbook.models import Entry, Kind
from logbook.models.round import Mark
from logbook.points import OperatingPoint, point_at, points_at
from logbook.times import MINUTE, instant_of, minute_of
from station.limits import LimitBook, limit_modulation
from station.models import Meter, Transmitter
from station.models.meter import Moves
from station.quantities import DIALS
from station.states import ON_AIR_STATES

LEARNED_FROM_MIN = 28 * 24 * 60
COUNTERS = ("hours", "water_volume")
OF_FILAMENTS = ("filament_voltage", "filament_current")
OF_THE_WATER = ("leakage_current",)
HEEDLESS_MIN = 2 * 24 * 60
"""How far back the last readings of a meter say where it stands, whatever the run: a resin that
was changed, or the weather of the hall, goes on over the night."""
Read = tuple[npt.NDArray[np.float64], npt.NDArray[np.bool_]]
POINT = ["frequency_khz", "antenna", "power_kw", "modulation"]


@dataclass(frozen=True)
class Place:
    """An operating point as far as a meter heeds it."""

    frequency_khz: float = 0.0
    antenna: str = ""
    power_kw: float = 0.0
    modulation: str = ""


def learn(judging: Judging, book: LimitBook, last: int) -> None:
    """Learn anew when a day has begun since; ``last`` is the minute of the newest reading."""
    boundary = int(bucket_begin(last, Grain.DAY))
    if judging.learned_until is not None and boundary <= judging.learned_until:
        return
    meters = [meter for meter in book.meters if meter.quantity not in COUNTERS]
    frame = learned_from(book.transmitter, meters, boundary)
    rows = [
        MeterReference(transmitter=book.transmitter, meter_id=meter_id, **vars(place), **vars(one))
        for (meter_id, place), one in learned(book, meters, frame, boundary).items()
    ]
    MeterReference.objects.filter(transmitter=book.transmitter).delete()
    MeterReference.objects.bulk_create(rows)
    judging.learned_until = boundary
    judging.save(update_fields=["learned_until"])


def learned(
    book: LimitBook, meters: Sequence[Meter], frame: pd.DataFrame, boundary: int
) -> dict[tuple[int, Place], Reference]:
    """The references by meter and place."""
    if frame.empty:
        return {}
    steps = {meter.pk: step_of(book, meter, instant_of(boundary)) for meter in meters}
    numbers, places = pd.factorize(pd.MultiIndex.from_frame(frame[POINT]))
    found = references(frame.assign(place=numbers), steps)
    known = [Place(float(khz), antenna, float(kw), how) for khz, antenna, kw, how in places]
    return {(meter_id, known[place]): one for (meter_id, place), one in found.items()}


def learned_from(transmitter: Transmitter, meters: Sequence[Meter], boundary: int) -> pd.DataFrame:
    """Readings on the air with the operating point that each meter heeds, and their run.

    A run ends with the state as well: a fixed wave that goes off each night is tuned in anew.
    """
    since = boundary - LEARNED_FROM_MIN
    frame = reading_frame(transmitter, [meter.pk for meter in meters], since, boundary)
    if frame.empty:
        return frame
    standing = standing_points(transmitter, instant_of(since), instant_of(boundary))
    points = points_at(standing, frame["minute"].to_numpy())
    frame = frame.assign(
        run=points.groupby(["run", "since"], dropna=False).ngroup().to_numpy(),
        state=points["state"].to_numpy(),
        frequency_khz=points["frequency_khz"].fillna(0.0).to_numpy(),
        antenna=points["antenna"].fillna("").to_numpy(),
        power_kw=points["power_kw"].fillna(0.0).to_numpy(),
    )
    begun = begun_anew(transmitter, meters, since)
    is_since = frame["minute"] >= frame["meter_id"].map(begun)
    is_number = frame["value"].notna() & frame["bound"].eq("")
    return heeded(frame[is_number & is_since & frame["state"].isin(ON_AIR_STATES)], meters)


def begun_anew(transmitter: Transmitter, meters: Sequence[Meter], since: int) -> dict[int, int]:
    """The minute from which each meter's readings speak of the tubes and the instrument of now."""
    current = Entry.objects.current().filter(transmitter=transmitter)
    tubes = current.filter(kind=Kind.TUBE).aggregate(last=Max("observed_at"))["last"]
    changes = current.filter(kind=Kind.METER).values("meterchange__meter")
    changed = dict(
        changes.annotate(last=Max("observed_at")).values_list("meterchange__meter", "last")
    )
    found = {}
    for meter in meters:
        of_tubes = tubes if heeds_power(meter) or meter.quantity in OF_FILAMENTS else None
        instants = [one for one in (of_tubes, changed.get(meter.pk)) if one]
        found[meter.pk] = max([since, *(minute_of(one) for one in instants)])
    return found


def heeded(frame: pd.DataFrame, meters: Sequence[Meter]) -> pd.DataFrame:
    """The operating point with what a meter does not heed left out."""
    of_wave = frame["meter_id"].map({meter.pk: heeds_wave(meter) for meter in meters})
    of_power = frame["meter_id"].map({meter.pk: heeds_power(meter) for meter in meters})
    by_key = {meter.pk: meter for meter in meters}
    pairs = zip(frame["meter_id"], frame["modulation"], strict=True)
    return frame.assign(
        frequency_khz=frame["frequency_khz"].where(of_wave, 0.0),
        antenna=frame["antenna"].where(of_wave, ""),
        power_kw=frame["power_kw"].where(of_power, 0.0),
        modulation=[programme(by_key[meter_id], modulation) for meter_id, modulation in pairs],
    )


def programme(meter: Meter, modulation: str) -> str:
    """How the programme was as far as a meter heeds it: 'on', 'carrier', or '' for any."""
    return "" if meter.moves == Moves.NONE else limit_modulation(meter, modulation)


def heeds_power(meter: Meter) -> bool:
    """Whether the power moves a meter: filaments, levels and conductivity it does not."""
    facts = meter.quantity_facts
    return meter.quantity in DIALS or not facts.tap_exponent == facts.coupling_exponent == 0


def heeds_wave(meter: Meter) -> bool:
    """Whether wave and antenna move a meter too; the water's leakage goes with the HT alone."""
    return heeds_power(meter) and meter.quantity not in OF_THE_WATER


def step_of(book: LimitBook, meter: Meter, at: datetime) -> float:
    instrument = book.instrument(meter, at)
    return instrument.step if instrument else 10.0**-meter.decimals


def expected_values(
    transmitter: Transmitter, at: datetime, modulation: str
) -> dict[Meter, Expected]:
    """What each meter should read at an instant; one without a reference is not there."""
    minute = minute_of(at)
    standing = standing_points(transmitter, at, at + MINUTE)
    point = point_at(standing, minute)
    if point.state not in ON_AIR_STATES:
        return {}
    rows = list(references_at(transmitter, point, modulation))
    read = read_before(transmitter, [row.meter for row in rows], point, minute, modulation)
    return {
        row.meter: expected(
            reference_of(row), believed(reference_of(row), *read.get(row.meter_id, ([], [])))
        )
        for row in rows
    }


def reference_of(row: MeterReference) -> Reference:
    return Reference(row.centre, row.between, row.within, row.runs, row.readings)


def references_at(
    transmitter: Transmitter, point: OperatingPoint, modulation: str
) -> Sequence[MeterReference]:
    """Those that hold at an operating point, learned of the tubes and instruments of now."""
    heeding = Q(
        frequency_khz=point.frequency_khz or 0.0,
        antenna=point.antenna,
        power_kw=point.power_kw or 0.0,
    )
    heeding_none = Q(frequency_khz=0.0, antenna="", power_kw__in=[0.0, point.power_kw or 0.0])
    learned_until = (
        Judging.objects.filter(transmitter=transmitter).values_list("learned_until", flat=True)
    ).first()
    rows = MeterReference.objects.filter(heeding | heeding_none, transmitter=transmitter)
    fitting = [
        row
        for row in rows.select_related("meter__stage")
        if row.modulation == programme(row.meter, modulation)
    ]
    begun = begun_anew(transmitter, [row.meter for row in fitting], 0)
    return [row for row in fitting if begun[row.meter_id] <= (learned_until or 0)]


def read_before(
    transmitter: Transmitter,
    meters: Sequence[Meter],
    point: OperatingPoint,
    until: int,
    modulation: str,
) -> dict[int, Read]:
    """What was read of each meter in the run so far, and which of it twice, with the programme as
    it is; of one that heeds no wave, in the last days.
    """
    if point.since is None:
        return {}
    began = minute_of(point.since.to_pydatetime())
    frame = reading_frame(transmitter, [m.pk for m in meters], until - HEEDLESS_MIN, until)
    by_key = {meter.pk: meter for meter in meters}
    numbers = frame[frame["bound"].eq("") & frame["value"].notna()]
    found: dict[int, Read] = {}
    for key, rows in numbers.groupby("meter_id"):
        meter = by_key[int(key)]
        wanted = programme(meter, modulation)
        is_alike = rows["modulation"].map(lambda how, of=meter: programme(of, how)).eq(wanted)
        is_recent = rows["minute"] >= (began if heeds_wave(meter) else 0)
        wanted_rows = rows[is_alike & is_recent]
        is_confirmed = wanted_rows["mark"].eq(Mark.CONFIRMED).to_numpy()
        found[meter.pk] = wanted_rows["value"].to_numpy(), is_confirmed
    return found
