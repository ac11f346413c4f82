"""Who may do what, and that nobody sees another station."""

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.test import RequestFactory

from station.access import RIGHTS, may, needs, own, transmitter_for
from station.models import Meter, Person, Station, Transmitter
from tests.make import make_station, make_transmitter
from tests.people import make_people, make_person

MAY = {
    "shift": {"read", "log", "correct", "move_tubes"},
    "engineer": {"read", "log", "correct", "limits", "sign", "schedule", "tubes", "move_tubes"}
    | {"out_of_service"},
    "planner": {"read", "tubes", "move_tubes", "out_of_service"},
    "viewer": {"read"},
    "outsider": set(),
    "without_role": set(),
    "retired": set(),
}

pytestmark = [pytest.mark.django_db, pytest.mark.need(76)]


def asked_by(person: Person) -> HttpRequest:
    request = RequestFactory().get("/")
    request.user = person
    return request


@needs("limits")
def limits_page(request: HttpRequest) -> HttpResponse:
    return HttpResponse("limits")


class TestMay:
    @pytest.mark.parametrize("name", MAY)
    def test_each_role_has_its_rights(self, name: str, station: Station) -> None:
        person = make_people(station)[name]
        assert {right for right in RIGHTS if may(person, right)} == MAY[name]

    def test_two_roles_have_both_their_rights(self, station: Station) -> None:
        person = make_person("both", "shift", station=station)
        person.groups.add(make_person("other", "planner", station=station).groups.get())
        assert may(person, "log")
        assert may(person, "tubes")


class TestNeeds:
    def test_the_right_opens_the_page(self, engineer: Person) -> None:
        assert limits_page(asked_by(engineer)).content == b"limits"

    @pytest.mark.parametrize("name", sorted(set(MAY) - {"engineer"}))
    def test_without_it_the_page_is_refused(self, name: str, station: Station) -> None:
        with pytest.raises(PermissionDenied):
            limits_page(asked_by(make_people(station)[name]))

    def test_the_right_is_told_to_who_lists_pages(self) -> None:
        assert limits_page.right == "limits"


class TestOwn:
    def test_the_own_transmitter_is_found(self, shift: Person, transmitter: Transmitter) -> None:
        assert transmitter_for(shift, "T1") == transmitter

    def test_of_another_station_nothing_is_seen(
        self, stranger: Person, transmitter: Transmitter
    ) -> None:
        with pytest.raises(Http404):
            transmitter_for(stranger, "T1")

    def test_the_same_code_elsewhere_is_not_mixed_up(
        self, stranger: Person, transmitter: Transmitter
    ) -> None:
        theirs = make_transmitter(station=make_station(code="elsewhere"))
        assert transmitter_for(stranger, "T1") == theirs

    def test_who_has_no_station_sees_nothing(self, outsider: Person, meter: Meter) -> None:
        with pytest.raises(Http404):
            own(outsider, Meter.objects.all(), pk=meter.pk)
