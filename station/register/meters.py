"""The meters of a transmitter in the register file: instruments, normal values, limits."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from station.models import Instrument, Priority
from station.models.limit import LimitModulation
from station.models.meter import Counts, Moves, Occasion
from station.quantities import QUANTITIES
from station.register.description import Description
from station.register.rows import Row, row
from station.register.table import Table
from station.states import State

METER_KEYS = frozenset(
    "code quantity label unit decimals stage socket includes moves read scatter scale lower_scale"
    " step class law counts line_ohm normal warning alarm from_normal deadband priority advice"
    " consequence allowed_min valid_from".split()
)
LONGEST_MIN = 7 * 24 * 60
LAWS = [law for law, _label in Instrument._meta.get_field("scale_law").choices]


@dataclass(frozen=True)
class LimitDefaults:
    """What a meter's own line says for all its limits."""

    advice: str
    priority: str | None
    deadband: float | None
    consequence: str = ""
    allowed_min: int | None = None


class MeterReader:
    """Reads the panels and the limits of one transmitter."""

    def __init__(
        self, transmitter: Table, powers: list[float], zone: ZoneInfo, found: Description
    ) -> None:
        self.transmitter = transmitter
        self.powers = powers
        self.zone = zone
        self.found = found
        self.limit_defaults: dict[str, LimitDefaults] = {}

    def read(self, defaults: dict[str, dict[str, Any]]) -> None:
        order = 0
        for panel in self.transmitter.tables("panels", "name"):
            name = panel.text("name")
            for table in panel.tables("meters", "code"):
                order += 1
                table.place = f"{self.transmitter.place}.meters.{table.raw.get('code', order)}"
                self.meter(with_defaults(table, defaults), name, order)
            panel.close()
        for number, table in enumerate(self.transmitter.tables("limits"), start=1):
            table.place = f"{self.transmitter.place}.limits.{named_meter(table, number)}"
            self.limits(table)
            table.close()

    def meter(self, table: Table, panel: str | None, order: int) -> None:
        code = table.text("code")
        quantity = table.choice(
            "quantity", _("quantity"), QUANTITIES, code if code in QUANTITIES else ""
        )
        if quantity == "":
            table.fault(
                "", _("'quantity' is missing: %(known)s.") % {"known": ", ".join(QUANTITIES)}
            )
        own = row("meter", **self.meter_values(table, code, quantity or ""), panel_group=panel)
        own.values["sheet_order"] = order
        self.found.rows.append(own)
        self.instrument(table, own.place)
        self.found.rows += self.normals(table, own.place)
        self.remember(table, own.place)
        if table.has("warning") or table.has("alarm"):
            self.limit(table, own.place)
        table.asked |= METER_KEYS
        table.close()

    def meter_values(self, table: Table, code: str | None, quantity: str) -> dict[str, Any]:
        facts = QUANTITIES.get(quantity)
        socket = table.text("socket", None)
        stage = table.text("stage", None)
        label = " ".join(word for word in (socket, facts.label if facts else None) if word)
        return {
            "transmitter": self.transmitter.place,
            "code": code,
            "quantity": quantity or None,
            "label": table.text("label", label) or None,
            "unit": unit(table, quantity),
            "decimals": table.whole("decimals", decimals_of(table.raw.get("step"))),
            "stage": self.place_of("stages", stage) or self.stage_of_socket(socket),
            "socket": self.place_of("sockets", socket),
            "includes": table.text("includes", ""),
            "moves": table.choice("moves", _("way to move"), Moves.values, Moves.NONE.value),
            "occasion": table.choice("read", _("occasion"), Occasion.values, Occasion.ROUND.value),
            "scatter": table.number("scatter", None),
            "counts": table.choice("counts", _("hour counter"), Counts.values, ""),
            "line_ohm": table.number("line_ohm", None),
        }

    def place_of(self, kind: str, code: str | None) -> str | None:
        return f"{self.transmitter.place}.{kind}.{code}" if code else None

    def stage_of_socket(self, socket: str | None) -> str | None:
        place = self.place_of("sockets", socket)
        stages = [
            one.values["stage"]
            for one in self.found.rows
            if one.kind.name == "socket" and one.place == place
        ]
        return stages[0] if stages else None

    def instrument(self, table: Table, meter: str) -> None:
        own = row(
            "instrument",
            meter=meter,
            scale_low=0.0,
            full_scale=table.number("scale"),
            lower_full_scale=table.number("lower_scale", None),
            step=table.number("step"),
            class_percent=table.number("class", None),
            scale_law=table.choice("law", _("scale law"), LAWS, "linear"),
        )
        self.found.rows.append(own)
        self.note_version(table, own)

    def normals(self, table: Table, meter: str) -> Iterator[Row]:
        if not table.has("normal"):
            return
        if not isinstance(table.raw["normal"], list):
            yield normal(meter, None, table.number("normal"))
            return
        values = table.numbers("normal")
        if len(values) != len(self.powers):
            table.fault("normal", _("write one value for each power of power_kw, in its order."))
            return
        for power_kw, value in zip(self.powers, values, strict=True):
            yield normal(meter, power_kw, value)

    def remember(self, table: Table, meter: str) -> None:
        self.limit_defaults[meter] = LimitDefaults(
            advice=table.text("advice", "") or "",
            priority=priority(table, Priority.MEDIUM.value),
            deadband=table.number("deadband", None),
            consequence=table.text("consequence", "") or "",
            allowed_min=allowed_min(table, None),
        )

    def limits(self, table: Table) -> None:
        """One line of limits, of one meter or of several alike."""
        for code in table.texts("meter"):
            self.limit(table, f"{self.transmitter.place}.meters.{code}")

    def limit(self, table: Table, meter: str) -> None:
        known = self.limit_defaults.get(meter, LimitDefaults("", Priority.MEDIUM.value, None))
        low_warning, high_warning = table.ends("warning")
        low_alarm, high_alarm = table.ends("alarm")
        own = row(
            "limit",
            meter=meter,
            state=table.choice("state", _("state"), State.values, ""),
            frequency_khz=table.number("khz", None),
            power_kw=table.number("power_kw", None),
            modulation=table.choice("modulation", _("modulation"), LimitModulation.values, ""),
            low_alarm=low_alarm,
            low_warning=low_warning,
            high_warning=high_warning,
            high_alarm=high_alarm,
            is_from_normal=table.flag("from_normal"),
            deadband=table.number("deadband", known.deadband),
            priority=priority(table, known.priority),
            advice=table.text("advice", known.advice),
            consequence=table.text("consequence", known.consequence),
            allowed_min=allowed_min(table, known.allowed_min),
        )
        self.found.rows.append(own)
        self.note_version(table, own)

    def note_version(self, table: Table, own: Row) -> None:
        valid_from = table.instant("valid_from", self.zone)
        if valid_from is not None:
            self.found.versions_from[own.place] = valid_from


def describe_meters(
    table: Table,
    powers: list[float],
    zone: ZoneInfo,
    defaults: dict[str, dict[str, Any]],
    found: Description,
) -> None:
    MeterReader(table, powers, zone, found).read(defaults)


def with_defaults(table: Table, defaults: dict[str, dict[str, Any]]) -> Table:
    quantity = table.raw.get("quantity", table.raw.get("code"))
    of_quantity = defaults.get(quantity, {}) if isinstance(quantity, str) else {}
    return Table({**of_quantity, **table.raw}, table.place, table.faults)


def named_meter(table: Table, number: int) -> str:
    meter = table.raw.get("meter", number)
    return "/".join(map(str, meter)) if isinstance(meter, list) else str(meter)


def unit(table: Table, quantity: str) -> str | None:
    facts = QUANTITIES.get(quantity)
    if facts is None:
        return table.text("unit", None)
    what = _("unit of %(quantity)s") % {"quantity": facts.label}
    return table.choice("unit", what, facts.units, facts.unit)


def priority(table: Table, default: str | None) -> Any:
    return table.choice("priority", _("priority"), Priority.values, default)


def allowed_min(table: Table, default: int | None) -> int | None:
    minutes = table.whole("allowed_min", default)
    if minutes is not None and not 0 <= minutes <= LONGEST_MIN:
        words = {"longest": LONGEST_MIN}
        sentence = _("write whole minutes from 0, 'at once', to %(longest)s, a week.")
        table.fault("allowed_min", sentence % words)
        return None
    return minutes


def normal(meter: str, power_kw: float | None, value: float | None) -> Row:
    return row("normal", meter=meter, power_kw=power_kw, frequency_khz=None, value=value)


def decimals_of(step: Any) -> int:
    """The decimals that a step shows: none for 5, one for 0.5, two for 0.05."""
    written = f"{step:f}".rstrip("0") if isinstance(step, int | float) else ""
    return len(written.partition(".")[2])
