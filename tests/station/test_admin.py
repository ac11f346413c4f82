"""The register's pages: engineers of the own station; versions, frozen meters, no deletion."""

from datetime import UTC, datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from station.admin import site
from station.models import Instrument, Limit, Meter, Normal, Person, Station, Transmitter
from station.signals import limits_changed
from tests.make import (
    COMMISSIONED_AT,
    make_antenna,
    make_limit,
    make_meter,
    make_normal,
    make_round,
    make_station,
    make_transmitter,
)
from tests.people import make_people, signed_in

CHANGED_AT = datetime(2026, 3, 1, 12, tzinfo=UTC)
PAGES = sorted(model._meta.model_name for model in site._registry)
REFUSED = ["shift", "planner", "viewer", "outsider", "without_role", "retired"]
LIMIT = {
    "low_alarm": "10.8",
    "low_warning": "11.6",
    "high_warning": "13.2",
    "high_alarm": "14.5",
    "priority": "medium",
    "advice": "Read again.",
    "consequence": "The anode overheats.",
    "allowed_min": "10",
    "valid_from_0": "2026-03-01",
    "valid_from_1": "12:00:00",
    "reason": "new tube",
}

pytestmark = [pytest.mark.django_db, pytest.mark.need(76)]


def address(model: str, page: str, *parts: Any) -> str:
    return reverse(f"admin:station_{model}_{page}", args=parts)


def errors(answer: Any) -> str:
    """Every sentence that the page shows about what was typed."""
    form = answer.context["adminform"].form
    return " ".join(sentence for field in form.errors.values() for sentence in field)


@pytest.fixture
def client(engineer: Person) -> Client:
    return signed_in(engineer)


class TestWhoMay:
    @pytest.mark.parametrize("model", PAGES)
    def test_an_engineer_opens_every_list(self, client: Client, model: str) -> None:
        assert client.get(address(model, "changelist")).status_code == 200

    @pytest.mark.parametrize("model", [one for one in PAGES if one != "station"])
    def test_an_engineer_opens_every_empty_form(self, client: Client, model: str) -> None:
        assert client.get(address(model, "add")).status_code == 200

    @pytest.mark.parametrize("name", REFUSED)
    def test_others_are_refused(self, station: Station, name: str) -> None:
        answer = signed_in(make_people(station)[name]).get(address("limit", "changelist"))
        assert answer.status_code in (302, 403)
        final = signed_in(Person.objects.get(username=name)).get(
            address("limit", "changelist"), follow=True
        )
        assert final.status_code == 403

    def test_who_is_not_signed_in_is_sent_to_the_way_in(self) -> None:
        answer = Client().get(address("limit", "changelist"))
        assert answer.url.startswith(reverse("sign_in"))

    def test_no_log_table_has_a_page(self) -> None:
        assert {model._meta.app_label for model in site._registry} == {"station"}


class TestOwnStation:
    @pytest.fixture
    def theirs(self) -> Meter:
        meter = make_meter(
            make_transmitter(station=make_station(code="elsewhere"), code="ELSEWHERE9")
        )
        make_limit(meter)
        return meter

    @pytest.mark.parametrize("model", ["transmitter", "meter", "limit", "instrument", "wave"])
    def test_a_list_shows_nothing_of_another_station(
        self, client: Client, transmitter: Transmitter, theirs: Meter, model: str
    ) -> None:
        assert "ELSEWHERE9" not in client.get(address(model, "changelist")).content.decode()

    def test_a_row_of_another_station_is_not_opened(self, client: Client, theirs: Meter) -> None:
        answer = client.get(address("meter", "change", theirs.pk), follow=True)
        assert answer.redirect_chain
        assert "elsewhere" not in answer.content.decode().casefold()

    def test_a_choice_offers_the_own_station_alone(
        self, client: Client, meter: Meter, theirs: Meter
    ) -> None:
        page = client.get(address("limit", "add"))
        offered = list(page.context["adminform"].form.fields["meter"].queryset)
        assert offered == [meter]

    def test_a_choice_of_another_station_is_refused(self, client: Client, theirs: Meter) -> None:
        answer = client.post(address("limit", "add"), {**LIMIT, "meter": theirs.pk})
        assert "not one of the available choices" in errors(answer)

    def test_a_new_row_belongs_to_the_own_station(self, client: Client, station: Station) -> None:
        client.post(address("antenna", "add"), {"code": "A7", "low_khz": 5900, "high_khz": 7500})
        assert station.pk == make_antenna(station, "A7").station_id

    def test_a_code_used_twice_is_said_at_the_form(self, client: Client, station: Station) -> None:
        make_antenna(station, "A7")
        answer = client.post(
            address("antenna", "add"), {"code": "A7", "low_khz": 5900, "high_khz": 7500}
        )
        assert "already exists" in errors(answer)

    def test_the_range_of_an_antenna_is_checked(self, client: Client) -> None:
        answer = client.post(
            address("antenna", "add"), {"code": "A7", "low_khz": 7500, "high_khz": 5900}
        )
        assert "The lowest frequency lies above the highest." in errors(answer)


class TestLimitPage:
    @pytest.fixture
    def limit(self, meter: Meter) -> Limit:
        return make_limit(meter)

    def save(self, client: Client, limit: Limit, **over: str) -> Any:
        return client.post(address("limit", "change", limit.pk), {**LIMIT, **over})

    def test_an_edit_is_a_new_version_of_its_author(
        self, client: Client, limit: Limit, engineer: Person
    ) -> None:
        assert self.save(client, limit).status_code == 302
        new = Limit.objects.last()
        assert (new.high_alarm, new.valid_from) == (14.5, CHANGED_AT)
        assert (new.author, new.reason) == (engineer, "new tube")

    def test_the_old_version_stays_as_it_was(self, client: Client, limit: Limit) -> None:
        self.save(client, limit)
        limit.refresh_from_db()
        assert (limit.high_alarm, limit.valid_from) == (14.0, COMMISSIONED_AT)
        assert (limit.author, limit.reason) == (None, "commissioning")

    def test_an_edit_asks_for_a_reason(self, client: Client, limit: Limit) -> None:
        page = client.get(address("limit", "change", limit.pk))
        assert page.context["adminform"].form["reason"].value() == ""
        assert "required" in errors(self.save(client, limit, reason=""))
        assert Limit.objects.count() == 1

    def test_an_old_version_cannot_be_the_ground(self, client: Client, limit: Limit) -> None:
        self.save(client, limit)
        assert self.save(client, limit, reason="again").status_code == 403
        assert Limit.objects.count() == 2

    def test_an_earlier_instant_is_refused(self, client: Client, limit: Limit) -> None:
        answer = self.save(client, limit, valid_from_0="2023-01-01")
        assert "write a later instant" in errors(answer)

    @pytest.mark.parametrize(
        ("name", "value", "sentence"),
        [
            ("low_warning", "13.5", "low warning 13.5 is not below high warning 13.2"),
            ("high_alarm", "25", "high alarm 25 is outside the scale 0 to 20"),
            ("advice", "", "an alarm without advice cannot be an alarm"),
        ],
    )
    @pytest.mark.need(29)
    def test_a_limit_that_cannot_be_is_said(
        self, client: Client, limit: Limit, name: str, value: str, sentence: str
    ) -> None:
        assert sentence in errors(self.save(client, limit, **{name: value}))

    def test_emptied_values_withdraw_the_limit(self, client: Client, limit: Limit) -> None:
        nothing = dict.fromkeys(("low_alarm", "low_warning", "high_warning", "high_alarm"), "")
        assert self.save(client, limit, **nothing).status_code == 302
        assert Limit.objects.last().high_alarm is None

    def test_a_new_limit_for_the_same_place_is_a_version_too(
        self, client: Client, limit: Limit
    ) -> None:
        client.post(address("limit", "add"), {**LIMIT, "meter": limit.meter_id})
        assert [one.high_alarm for one in Limit.objects.all()] == [14.0, 14.5]

    def test_a_limit_is_never_deleted(self, client: Client, limit: Limit) -> None:
        assert client.post(address("limit", "delete", limit.pk), {"post": "yes"}).status_code == 403
        assert Limit.objects.exists()

    def test_the_change_is_told_from_its_instant(
        self, client: Client, limit: Limit, django_capture_on_commit_callbacks: Any
    ) -> None:
        heard = []

        def hear(transmitter: Transmitter, since: datetime, **kwargs: Any) -> None:
            heard.append((transmitter.code, since))

        limits_changed.connect(hear)
        with django_capture_on_commit_callbacks(execute=True):
            self.save(client, limit)
        limits_changed.disconnect(hear)
        assert heard == [("T1", CHANGED_AT)]


class TestInstrumentPage:
    def test_another_scale_is_a_new_instrument(self, client: Client, meter: Meter) -> None:
        typed = {"scale_low": 0, "full_scale": 50, "step": 0.5, "scale_law": "linear"}
        at = {"valid_from_0": "2026-03-01", "valid_from_1": "12:00:00"}
        instrument = meter.instruments.get()
        client.post(address("instrument", "change", instrument.pk), {**typed, **at})
        old, new = Instrument.objects.all()
        assert (old.full_scale, old.valid_until) == (20, CHANGED_AT)
        assert (new.full_scale, new.valid_from, new.valid_until) == (50, CHANGED_AT, None)

    def test_a_step_of_zero_is_refused(self, client: Client, meter: Meter) -> None:
        typed = {"scale_low": 0, "full_scale": 50, "step": 0, "scale_law": "linear"}
        at = {"valid_from_0": "2026-03-01", "valid_from_1": "12:00:00"}
        instrument = meter.instruments.get()
        answer = client.post(address("instrument", "change", instrument.pk), {**typed, **at})
        assert "The smallest step read is above zero." in errors(answer)


class TestMeterPage:
    TYPED = {
        "code": "renamed",
        "label": "left final",
        "quantity": "anode_current",
        "unit": "A",
        "decimals": 1,
        "panel_group": "Final",
        "sheet_order": 1,
        "moves": "none",
        "occasion": "round",
        "normals-TOTAL_FORMS": 0,
        "normals-INITIAL_FORMS": 0,
    }

    def save(self, client: Client, meter: Meter, **over: Any) -> Any:
        typed = {**self.TYPED, "transmitter": meter.transmitter_id, **over}
        return client.post(address("meter", "change", meter.pk), typed)

    def test_a_meter_that_was_read_keeps_its_meaning(
        self, client: Client, meter: Meter, engineer: Person
    ) -> None:
        make_round(engineer, meter.transmitter, {meter.code: "12.4"})
        self.save(client, meter, unit="mA", quantity="grid_current")
        meter.refresh_from_db()
        assert (meter.code, meter.quantity, meter.unit) == (
            "v1_anode_current",
            "anode_current",
            "A",
        )
        assert meter.label == "left final"

    def test_a_meter_never_read_may_change(self, client: Client, meter: Meter) -> None:
        self.save(client, meter, unit="mA")
        meter.refresh_from_db()
        assert (meter.code, meter.unit) == ("renamed", "mA")

    def test_a_unit_of_another_quantity_is_refused(self, client: Client, meter: Meter) -> None:
        assert "anode current is read in A, mA." in errors(self.save(client, meter, unit="kW"))

    def test_two_equal_normal_values_are_refused(self, client: Client, meter: Meter) -> None:
        make_normal(meter, 12.4)
        answer = self.save(
            client,
            meter,
            **{"normals-TOTAL_FORMS": 2, "normals-INITIAL_FORMS": 0},
            **{"normals-0-value": 1, "normals-0-power_kw": 80},
            **{"normals-1-value": 2, "normals-1-power_kw": 80},
        )
        assert answer.status_code < 500
        assert Normal.objects.get().value == 12.4


class TestDeletion:
    def test_what_is_used_is_kept_with_a_sentence(
        self, client: Client, meter: Meter, engineer: Person
    ) -> None:
        make_round(engineer, meter.transmitter, {meter.code: "12.4"})
        page = client.post(address("meter", "delete", meter.pk), {"post": "yes"})
        assert "v1 anode current is used by 1 x reading: it is kept." in page.content.decode()
        assert Meter.objects.filter(pk=meter.pk).exists()

    def test_several_chosen_in_a_list_are_kept_too(self, client: Client, meter: Meter) -> None:
        chosen = {"action": "delete_selected", "_selected_action": meter.pk, "post": "yes"}
        client.post(address("meter", "changelist"), chosen)
        assert Meter.objects.filter(pk=meter.pk).exists()

    def test_what_nothing_uses_may_go(self, client: Client, station: Station) -> None:
        antenna = make_antenna(station, "A7")
        client.post(address("antenna", "delete", antenna.pk), {"post": "yes"})
        assert not type(antenna).objects.exists()


class TestPeoplePage:
    NEW = {"username": "anna", "first_name": "Anna", "last_name": "Moor", "usable_password": "true"}
    PASSWORDS = {"password1": "quite a long one 7", "password2": "quite a long one 7"}

    def test_a_new_person_belongs_to_the_own_station(
        self, client: Client, station: Station
    ) -> None:
        client.post(address("person", "add"), {**self.NEW, **self.PASSWORDS})
        assert Person.objects.get(username="anna").station == station

    def test_a_person_is_never_deleted(self, client: Client, shift: Person) -> None:
        answer = client.post(address("person", "delete", shift.pk), {"post": "yes"})
        assert answer.status_code == 403

    def test_a_person_of_another_station_is_not_opened(
        self, client: Client, stranger: Person
    ) -> None:
        answer = client.get(reverse("admin:auth_user_password_change", args=[stranger.pk]))
        assert answer.status_code == 404

    def test_the_installer_is_not_opened(self, client: Client, station: Station) -> None:
        root = Person.objects.create_superuser("root", password="x", station=station)
        answer = client.get(reverse("admin:auth_user_password_change", args=[root.pk]))
        assert answer.status_code == 404

    def test_no_page_makes_a_superuser(self, client: Client, shift: Person) -> None:
        client.post(
            address("person", "change", shift.pk),
            {"username": "shift", "is_superuser": "on", "is_staff": "on"},
        )
        shift.refresh_from_db()
        assert not shift.is_superuser
