"""Who may do what: every view takes its rights and its objects from here."""

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar

from django.core.exceptions import PermissionDenied
from django.db import models
from django.http import Http404, HttpRequest, HttpResponse

from station.models import Person, Transmitter

Row = TypeVar("Row", bound=models.Model)

ROLES = ("shift", "engineer", "planner", "viewer")

RIGHTS: dict[str, frozenset[str]] = {
    "read": frozenset(ROLES),
    "log": frozenset({"shift", "engineer"}),
    "correct": frozenset({"shift", "engineer"}),
    "out_of_service": frozenset({"engineer", "planner"}),
    "limits": frozenset({"engineer"}),
    "sign": frozenset({"engineer"}),
    "schedule": frozenset({"engineer"}),
    "tubes": frozenset({"planner", "engineer"}),
    "move_tubes": frozenset({"shift", "engineer", "planner"}),
}


def roles_of(person: Person) -> frozenset[str]:
    """The person's roles, read once a request."""
    if not hasattr(person, "known_roles"):
        person.known_roles = frozenset(person.groups.values_list("name", flat=True))
    return person.known_roles


def may(person: Person, right: str) -> bool:
    """Whether a person of a station, not retired, holds a role with this right."""
    if not person.is_authenticated or person.station_id is None or person.retired_at:
        return False
    return bool(RIGHTS[right] & roles_of(person))


def needs(right: str) -> Callable[[Callable[..., HttpResponse]], Callable[..., HttpResponse]]:
    """Refuse a view to everyone without this right."""

    def decorate(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @wraps(view)
        def checked(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if not may(request.user, right):
                raise PermissionDenied
            return view(request, *args, **kwargs)

        checked.right = right
        return checked

    return decorate


def transmitter_for(person: Person, code: str) -> Transmitter:
    """The transmitter of the person's own station, or 404."""
    return own(person, Transmitter.objects.select_related("station"), code=code)


def own(person: Person, rows: "models.QuerySet[Row]", **wanted: Any) -> Row:
    """One row of the person's own station, or 404: of other stations nothing is seen."""
    if any("\0" in value for value in wanted.values() if isinstance(value, str)):
        raise Http404  # a text that PostgreSQL does not even ask about
    row = rows.filter(station_id=person.station_id, **wanted).first()
    if row is None:
        raise Http404
    return row
