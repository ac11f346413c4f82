"""What is wrong with the rows of a register file, and what is worth a remark."""

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from math import erfc, sqrt

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from station.models import Station
from station.register.description import Description
from station.register.faults import Fault, not_among
from station.register.rows import KINDS, Row, transmitter_code

BOUNDS = ("low_alarm", "low_warning", "high_warning", "high_alarm")
REPEATED = {
    "meter": _("this code stands twice: give each meter a code of its own."),
    "limit": _(
        "two equal limits: take one away, or say for which state, wave, power or modulation."
    ),
}
MINUTES_A_WEEK = 7 * 24 * 60


def faults_of(found: Description) -> list[Fault]:
    """Every fault of the rows, each once."""
    places = {row.place: row for row in found.rows}
    faults = [*station_faults(found), *repeated(found.rows)]
    for row in found.rows:
        faults += [*missing_references(row, places), *field_faults(row)]
    for row in rows_of("wave", found):
        faults += wave_faults(row, places)
    for row in rows_of("meter", found):
        faults += meter_faults(row, places)
    for row in (*rows_of("limit", found), *rows_of("normal", found)):
        faults += [*condition_faults(row, places), *scale_faults(row, places)]
    for row in rows_of("limit", found):
        faults += limit_faults(row)
    return faults


def rows_of(kind: str, found: Description) -> list[Row]:
    return [row for row in found.rows if row.kind.name == kind]


def station_faults(found: Description) -> Iterator[Fault]:
    for name, value in found.station.items():
        try:
            if value is not None:
                Station._meta.get_field(name).clean(value, None)
        except ValidationError as error:
            yield Fault(f"station.{name}", " ".join(error.messages))


def repeated(rows: list[Row]) -> Iterator[Fault]:
    counts = Counter((row.kind.name, row.place) for row in rows)
    for (kind, place), count in counts.items():
        if count > 1 and kind != "instrument":  # its meter's own fault
            yield Fault(place, REPEATED.get(kind, _("this stands twice: take one away.")))


def missing_references(row: Row, places: dict[str, Row]) -> Iterator[Fault]:
    wanted = [(kind, row.values.get(name)) for name, kind in row.kind.references.items()]
    for name, kind in row.kind.many.items():
        wanted += [(kind, place) for place in row.values[name]]
    for kind, place in wanted:
        if place is not None and place not in places:
            what = KINDS[kind].model._meta.verbose_name
            yield Fault(row.place, not_among(what, code_of(place), codes(kind, row, places)))


def codes(kind: str, row: Row, places: dict[str, Row]) -> list[str]:
    """The codes that a row could have named: of its own transmitter, or of the station."""
    mine = (transmitter_code(row.place), "antennas", "tube_types")
    return [
        code_of(place)
        for place, other in places.items()
        if other.kind.name == kind and transmitter_code(place) in mine
    ]


def code_of(place: str) -> str:
    return place.rpartition(".")[2]


def field_faults(row: Row) -> Iterator[Fault]:
    """What the register's own fields refuse: too long a text, a number out of range."""
    for name in row.kind.fields:
        value = row.values[name]
        if value is None:
            continue
        try:
            row.kind.model._meta.get_field(name).clean(value, None)
        except ValidationError as error:
            yield Fault(f"{row.place}.{name}", " ".join(error.messages))


def wave_faults(row: Row, places: dict[str, Row]) -> Iterator[Fault]:
    khz, antenna = row.values["frequency_khz"], places.get(row.values["antenna"])
    low, high = ends(antenna)
    if antenna and low is not None and high is not None and not low <= khz <= high:
        yield Fault(
            row.place,
            _("%(khz)g kHz is outside the range of antenna %(antenna)s, %(low)g to %(high)g kHz.")
            % {"khz": khz, "antenna": antenna.values["code"], "low": low, "high": high},
        )


def ends(antenna: Row | None) -> tuple[float | None, float | None]:
    return (antenna.values["low_khz"], antenna.values["high_khz"]) if antenna else (None, None)


def meter_faults(row: Row, places: dict[str, Row]) -> Iterator[Fault]:
    socket = places.get(row.values["socket"])
    if socket and row.values["stage"] != socket.values["stage"]:
        words = {"socket": socket.values["code"], "stage": code_of(socket.values["stage"])}
        yield Fault(row.place, _("socket %(socket)s belongs to stage '%(stage)s'.") % words)
    instrument = places.get(f"{row.place}.instrument")
    step = instrument.values["step"] if instrument else None
    if step is not None and step <= 0:
        yield Fault(row.place, _("step %(step)g: a step is above zero.") % {"step": step})
    if row.values["counts"] and row.values["quantity"] != "hours":
        yield Fault(row.place, _("'counts' is for an hour counter: quantity 'hours'."))


def condition_faults(row: Row, places: dict[str, Row]) -> Iterator[Fault]:
    """A limit or normal value for a wave or a power that the transmitter does not have."""
    code = transmitter_code(row.place)
    khz, power_kw = row.values["frequency_khz"], row.values["power_kw"]
    if khz is not None and f"{code}.waves.{khz:g}" not in places:
        yield Fault(
            row.place, _("%(khz)g kHz is no wave of %(code)s.") % {"khz": khz, "code": code}
        )
    powers = [
        other.values["power_kw"]
        for place, other in places.items()
        if other.kind.name == "power_level" and transmitter_code(place) == code
    ]
    if power_kw is not None and power_kw not in powers:
        words = {"power": power_kw, "code": code}
        yield Fault(row.place, _("%(power)g kW is no power of %(code)s.") % words)


def scale_faults(row: Row, places: dict[str, Row]) -> Iterator[Fault]:
    """A limit or normal value that the instrument cannot show."""
    instrument = places.get(f"{row.values['meter']}.instrument")
    if instrument is None or row.values.get("is_from_normal"):
        return
    low, high = instrument.values["scale_low"], instrument.values["full_scale"]
    for name in (*BOUNDS, "value"):
        value = row.values.get(name)
        if value is not None and high is not None and not low <= value <= high:
            words = {"what": words_of(name), "value": value, "low": low, "high": high}
            sentence = _("%(what)s %(value)g is outside the scale %(low)g to %(high)g.")
            yield Fault(row.place, sentence % words)


def limit_faults(row: Row) -> Iterator[Fault]:
    values = {name: row.values[name] for name in BOUNDS if row.values[name] is not None}
    for (lower, low), (upper, high) in pairwise(values.items()):
        if low > high or (low == high and lower[:3] != upper[:3]):
            words = {"lower": words_of(lower), "low": low, "upper": words_of(upper), "high": high}
            sentence = _("%(lower)s %(low)g is not below %(upper)s %(high)g.")
            yield Fault(row.place, sentence % words)
    if not values:
        yield Fault(row.place, _("no limit is given: write warning = [low, high] or alarm."))
    if not row.values["advice"] and {"low_alarm", "high_alarm"} & set(values):
        yield Fault(
            row.place,
            _("an alarm without advice cannot be an alarm: write advice, or give a warning alone."),
        )


def words_of(name: str) -> str:
    return name.replace("_", " ")


def remarks_of(found: Description) -> list[Fault]:
    """What is allowed, and still worth saying to the person who sets the limits."""
    places = {row.place: row for row in found.rows}
    return [
        remark
        for row in rows_of("limit", found)
        for remark in (*tighter_than_class(row, places), *tighter_than_scatter(row, places))
    ]


def distance(row: Row, places: dict[str, Row]) -> float | None:
    """How far the nearer warning lies from the normal value at full power."""
    normal = 0.0 if row.values["is_from_normal"] else full_power_normal(row, places)
    if normal is None or row.values["modulation"] == "on":
        return None
    warnings = [row.values[name] for name in ("low_warning", "high_warning")]
    return min((abs(one - normal) for one in warnings if one is not None), default=None)


def full_power_normal(row: Row, places: dict[str, Row]) -> float | None:
    transmitter = places[transmitter_code(row.place)]
    full, meter = transmitter.values["full_power_kw"], row.values["meter"]
    place = meter.replace(".meters.", ".normals.")
    known = places.get(f"{place} ({full:g} kW)") or places.get(place)
    return known.values["value"] if known else None


def tighter_than_class(row: Row, places: dict[str, Row]) -> Iterator[Fault]:
    instrument = places[f"{row.values['meter']}.instrument"].values
    away, class_percent = distance(row, places), instrument["class_percent"]
    if away is None or class_percent is None:
        return
    scale = instrument["lower_full_scale"] or instrument["full_scale"]
    error = class_percent / 100 * scale
    if away < error:
        words = {"away": away, "error": error}
        sentence = _(
            "the warning lies %(away).3g from the normal value, and the meter's class allows "
            "%(error).3g: the meter alone may cross it."
        )
        yield Fault(row.place, sentence % words)


def tighter_than_scatter(row: Row, places: dict[str, Row]) -> Iterator[Fault]:
    away, sigma = distance(row, places), places[row.values["meter"]].values["scatter"]
    if away is None or not sigma or away >= 3 * sigma:
        return
    words = {"away": away / sigma, "marks": marks_a_week(row, places, away / sigma)}
    sentence = _(
        "the warning lies %(away).1f of the meter's own scatter from the normal value: about "
        "%(marks).0f false marks a week, on air all day."
    )
    yield Fault(row.place, sentence % words)


def marks_a_week(row: Row, places: dict[str, Row], distance_sigma: float) -> float:
    """Readings a week times the chance of a normal deviate beyond the distance, one side."""
    interval = places.get(f"{transmitter_code(row.place)}.every_min.on_air")
    rounds = MINUTES_A_WEEK / interval.values["minutes"] if interval else 0
    return rounds * erfc(distance_sigma / sqrt(2)) / 2
