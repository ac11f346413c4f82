"""One table of the register file: every key is asked for as what it must be."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime, time
from math import inf, isfinite
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from station.register.faults import Fault, not_among

Ends = tuple[float | None, float | None]
REQUIRED: Any = object()


class Table:
    """The keys of one table. A wrong value becomes a fault and is read as None."""

    def __init__(self, raw: Mapping[str, Any], place: str, faults: list[Fault]) -> None:
        self.raw = raw
        self.place = place
        self.faults = faults
        self.asked: set[str] = set()

    def fault(self, key: str, sentence: str) -> None:
        place = f"{self.place}.{key}" if self.place and key else self.place or key
        self.faults.append(Fault(place, sentence))

    def has(self, key: str) -> bool:
        return key in self.raw

    def take(self, key: str, default: Any = REQUIRED) -> Any:
        self.asked.add(key)
        if key in self.raw:
            return self.raw[key]
        if default is REQUIRED:
            self.fault("", _("'%(key)s' is missing.") % {"key": key})
            return None
        return default

    def text(self, key: str, default: Any = REQUIRED) -> str | None:
        value = self.take(key, default)
        if value is None or isinstance(value, str):
            return value
        return self.wrong(key, value, _('a text in quotes, such as "A1"'))

    def number(self, key: str, default: Any = REQUIRED) -> float | None:
        value = self.take(key, default)
        if value is None or (is_number(value) and isfinite(value)):
            return value if value is None else float(value)
        return self.wrong(key, value, _("a number, such as 12.5"))

    def whole(self, key: str, default: Any = REQUIRED) -> int | None:
        value = self.take(key, default)
        if value is None or (isinstance(value, int) and not isinstance(value, bool)):
            return value
        return self.wrong(key, value, _("a whole number, such as 60"))

    def flag(self, key: str) -> bool:
        value = self.take(key, False)
        return value if isinstance(value, bool) else bool(self.wrong(key, value, "true / false"))

    def numbers(self, key: str) -> list[float]:
        value = self.take(key)
        if isinstance(value, list) and all(is_number(one) and isfinite(one) for one in value):
            return [float(one) for one in value]
        if value is not None:
            self.wrong(key, value, _("numbers in brackets, such as [80, 120, 200]"))
        return []

    def texts(self, key: str, default: Any = REQUIRED) -> list[str]:
        value = self.take(key, default)
        values = [value] if isinstance(value, str) else value
        if isinstance(values, list) and all(isinstance(one, str) for one in values):
            return values
        if value is not None:
            self.wrong(key, value, _('texts in brackets, such as ["V1", "V2"]'))
        return []

    def ends(self, key: str) -> Ends:
        """A low and a high end; -inf or inf stands for none."""
        value = self.take(key, [-inf, inf])
        if isinstance(value, list) and len(value) == 2 and all(is_number(one) for one in value):
            return tuple(float(one) if isfinite(one) else None for one in value)
        self.wrong(key, value, _("[low, high], with -inf or inf where there is none"))
        return (None, None)

    def choice(self, key: str, what: str, known: Iterable[str], default: Any = REQUIRED) -> Any:
        known = list(known)
        value = self.text(key, default)
        if value is None or value == default or value in known:
            return value
        self.fault(key, not_among(what, value, known))
        return None

    def instant(self, key: str, zone: ZoneInfo) -> datetime | None:
        """A date (its first moment at the station) or an instant with its zone."""
        value = self.take(key, None)
        if isinstance(value, datetime) and value.tzinfo:
            return value
        if isinstance(value, date) and not isinstance(value, datetime):
            return datetime.combine(value, time(), zone)
        if value is not None:
            self.wrong(key, value, _("2026-03-29, or 2026-03-29T06:00:00Z"))
        return None

    def tables(self, key: str, name: str = "") -> list["Table"]:
        """The tables of an array, each with its number as its place."""
        value = self.take(key, [])
        if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
            self.wrong(key, value, _("tables in brackets: [ { ... }, { ... } ]"))
            return []
        return [
            Table(one, f"{self.place}.{key}.{one.get(name, number)}", self.faults)
            for number, one in enumerate(value, start=1)
        ]

    def table(self, key: str, place: str = "") -> "Table":
        value = self.take(key, {})
        if not isinstance(value, dict):
            self.wrong(key, value, _("a table: { ... }"))
            value = {}
        return Table(value, place or (f"{self.place}.{key}" if self.place else key), self.faults)

    def named(self, places: str = "{}") -> dict[str, "Table"]:
        """The tables inside this one by their names."""
        return {name: self.table(name, places.format(name)) for name in self.raw}

    def wrong(self, key: str, value: Any, wanted: str) -> None:
        words = {"value": value, "wanted": wanted}
        self.fault(key, _("%(value)r is not understood: write %(wanted)s.") % words)

    def close(self) -> None:
        """Everything that nobody asked for is a fault: most are slips of the pen."""
        for key in self.raw:
            if key not in self.asked:
                self.fault(key, not_among(_("key here"), key, sorted(self.asked)))


def is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
