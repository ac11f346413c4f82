"""What every page shows: the two clocks, the navigation and what the person may do."""

from datetime import UTC, datetime
from typing import Any

from django.apps import apps
from django.http import HttpRequest

from station.access import RIGHTS, may


def page(request: HttpRequest) -> dict[str, Any]:
    """``now_utc``, ``now_local``, ``navigation`` (view name and label) and ``rights``.

    The topmost room comes first: the hall before the log, the register last.
    """
    person = getattr(request, "user", None)
    station = getattr(person, "station", None)
    now = datetime.now(UTC)
    if station is None:
        return {"now_utc": now, "now_local": None, "navigation": [], "rights": frozenset()}
    return {
        "now_utc": now,
        "now_local": now.astimezone(station.zone),
        "navigation": [
            item
            for app in reversed(list(apps.get_app_configs()))
            for item in getattr(app, "navigation", ())
        ],
        "rights": frozenset(right for right in RIGHTS if may(person, right)),
    }
