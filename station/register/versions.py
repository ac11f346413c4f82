"""Limits and instruments are never edited: a change is a newer version of the row."""

from station.models import Instrument, Limit

Version = Limit | Instrument
LIMIT_COLUMNS = ("meter_id", "state", "frequency_khz", "power_kw", "modulation")


def save_version(version: Version, before: Version | None) -> None:
    """Save as a row of its own; the instrument before it ends where the new one begins."""
    if isinstance(before, Instrument):
        Instrument.objects.filter(pk=before.pk).update(valid_until=version.valid_from)
    version.pk = None
    version.save(force_insert=True)


def newest_version(version: Version) -> Version | None:
    """The newest row for the same meter and conditions."""
    names = LIMIT_COLUMNS if isinstance(version, Limit) else ("meter_id",)
    same = type(version).objects.filter(**{name: getattr(version, name) for name in names})
    return same.order_by("valid_from").last()
