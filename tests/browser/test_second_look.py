"""The second look in Chromium: asked when a cell is left, offered and never applied by itself."""

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import pytest
from playwright.sync_api import Locator, Page, expect

from logbook import port
from logbook.models import Reading, Round
from station.models import Person, Stage, Transmitter
from tests.browser.pages import (
    NARROW,
    WIDE,
    OpenPage,
    assert_accessible,
    assert_no_sideways_scroll,
    save_screenshot,
)
from tests.make import make_limit, make_meter, make_state

pytestmark = pytest.mark.django_db(transaction=True)
ADDRESS = "/log/T1/round"

# label: quantity, unit, decimals, full scale, step, expected value, sigma
METERS = {
    "HT current": ("ht_current", "A", 1, 20, 0.2, 11.0, 0.1),
    "HT voltage": ("ht_voltage", "kV", 2, 15, 0.05, 10.5, 0.05),
    "V1 grid current": ("grid_current", "A", 2, 2, 0.02, 1.30, 0.02),
    "V2 grid current": ("grid_current", "A", 2, 2, 0.02, 1.14, 0.02),
    "conductivity": ("conductivity", "uS/cm", 1, 10, 0.1, 0.6, 0.03),
    "air temperature": ("air_temperature", "C", 0, 60, 1, 24.0, 1.0),
}
AT_TWO_THIRDS = {
    "HT current": "7.0",
    "HT voltage": "6.65",
    "V1 grid current": "0.82",
    "V2 grid current": "0.72",
}
ONE_OF_EACH = {
    "HT current": "1.10",
    "HT voltage": "8.25",
    "V1 grid current": "1.14",
    "V2 grid current": "1.30",
    "conductivity": "1.7",
}

SIGNED = ("11,0=", "11.0 =", "11.0?=", "11.0==", "1.2+=", "44=", "abc=", "/=", "=")


def code_of(label: str) -> str:
    return label.lower().replace(" ", "_")


def hint(value: float, sigma: float, step: float) -> SimpleNamespace:
    reach = max(4 * sigma, 1.5 * step)
    return SimpleNamespace(value=value, sigma=sigma, reach=reach, is_borrowed=False)


@pytest.fixture
def sheet(shift: Person, transmitter: Transmitter, monkeypatch: pytest.MonkeyPatch) -> Transmitter:
    """T1 on the air for three hours, every meter of it with an expected value."""
    final = Stage.objects.create(
        station=transmitter.station, transmitter=transmitter, code="final", name="Final"
    )
    hints = {}
    for label, (quantity, unit, decimals, full, step, value, sigma) in METERS.items():
        facts = {"quantity": quantity, "unit": unit, "decimals": decimals, "label": label}
        scale = {"full_scale": full, "step": step}
        make_meter(transmitter, code_of(label), stage=final, **facts, **scale)
        hints[code_of(label)] = hint(value, sigma, step)
    now = datetime.now(UTC).replace(second=0, microsecond=0)
    wave = transmitter.waves.get()
    make_state(
        shift,
        transmitter,
        observed_at=now - timedelta(hours=3),
        state="on_air",
        frequency_khz=wave.frequency_khz,
        antenna=wave.antenna,
        power_kw=200.0,
    )
    monkeypatch.setattr(port, "hints", lambda *_: hints)
    return transmitter


@pytest.fixture
def page(open_page: OpenPage, shift: Person, sheet: Transmitter) -> Page:
    opened: Page = open_page(shift)
    opened.goto(ADDRESS)
    return opened


def type_in(page: Page, label: str, text: str) -> None:
    """Over whatever stands there, by key, and on to the next cell."""
    page.get_by_label(label, exact=True).focus()
    page.keyboard.type(text)
    page.keyboard.press("Enter")


def asked(page: Page, label: str) -> Locator:
    return row_of(page, label).locator("[data-asked]")


def row_of(page: Page, label: str) -> Locator:
    return page.locator("tr.meter").filter(has=page.get_by_label(label, exact=True))


@pytest.mark.need(9)
class TestAsked:
    @pytest.mark.parametrize(
        ("label", "text", "question", "offer"),
        [
            pytest.param(
                *("HT current", "1.10", "is the decimal point in its place?", "11.0"),
                marks=pytest.mark.case("C1"),
            ),
            pytest.param(
                *("HT voltage", "0,105", "is the decimal point in its place?", "10.50"),
                marks=[pytest.mark.case("C1"), pytest.mark.case("C26")],
            ),
            pytest.param(
                *("V1 grid current", "1.03", "two digits turned round?", "1.30"),
                marks=pytest.mark.case("C2"),
            ),
            pytest.param(
                *("V1 grid current", "1,03", "two digits turned round?", "1.30"),
                marks=[pytest.mark.case("C2"), pytest.mark.case("C26")],
            ),
            pytest.param(
                *("conductivity", "1.7", "resistivity and conductivity exchanged?", "0.6"),
                marks=pytest.mark.case("C21"),
            ),
            ("V2 grid current", "1.74", "one digit wrong?", "1.14"),
        ],
    )
    def test_slip_is_asked_about_and_its_offer_can_be_taken(
        self, page: Page, label: str, text: str, question: str, offer: str
    ) -> None:
        type_in(page, label, text)
        expect(asked(page, label)).to_contain_text("read it again")
        expect(asked(page, label)).to_contain_text(question)
        expect(page.get_by_label(label, exact=True)).to_have_value(text)
        asked(page, label).get_by_role("button", name=f"take {offer}").click()
        expect(page.get_by_label(label, exact=True)).to_have_value(offer)
        expect(page.get_by_label(label, exact=True)).to_be_focused()
        expect(asked(page, label)).to_be_empty()

    def test_value_that_nothing_explains_is_asked_about_without_an_offer(self, page: Page) -> None:
        type_in(page, "HT voltage", "8.25")
        expect(asked(page, "HT voltage").locator("p")).to_have_text(
            "Expected 10.50 ± 0.05 kV: read it again."
        )
        expect(row_of(page, "HT voltage").locator("[data-mark]")).to_contain_text("doubtful")
        assert asked(page, "HT voltage").get_by_role("button").all_text_contents() == [
            "it reads so HT voltage"
        ]

    @pytest.mark.parametrize("text", ["", "11.2", "/", "abc", "1.1+"])
    def test_good_value_code_text_and_off_scale_are_left_alone(self, page: Page, text: str) -> None:
        type_in(page, "HT current", text)
        type_in(page, "HT voltage", "8.25")
        expect(asked(page, "HT voltage")).not_to_be_empty()
        expect(asked(page, "HT current")).to_be_empty()

    def test_value_that_was_mended_is_asked_about_no_more(self, page: Page) -> None:
        type_in(page, "HT current", "1.10")
        type_in(page, "HT current", "11.0")
        expect(asked(page, "HT current")).to_be_empty()
        expect(page.get_by_label("HT current")).to_have_value("11.0")

    def test_question_is_read_with_the_field_and_stands_behind_it(self, page: Page) -> None:
        """Tab goes on to the next field; the buttons lie between the two, on the way back."""
        page.get_by_label("V1 grid current").focus()
        page.keyboard.type("1.03")
        page.keyboard.press("Tab")
        expect(page.get_by_label("V2 grid current")).to_be_focused()
        expect(page.get_by_label("V1 grid current")).to_have_accessible_description(
            "doubtful Expected 1.30 ± 0.02 A: read it again; two digits turned round?"
        )
        for name in ("it reads so V1 grid current", "take 1.30 V1 grid current"):
            page.keyboard.press("Shift+Tab")
            expect(page.get_by_role("button", name=name)).to_be_focused()
        page.keyboard.press("Shift+Tab")
        expect(page.get_by_label("V1 grid current")).to_be_focused()

    def test_tab_out_of_a_mended_cell_goes_on_to_the_next(self, page: Page) -> None:
        type_in(page, "V1 grid current", "1.03")
        expect(asked(page, "V1 grid current")).not_to_be_empty()
        page.get_by_label("V1 grid current").focus()
        page.keyboard.type("1.30")
        page.keyboard.press("Tab")
        expect(asked(page, "V1 grid current")).to_be_empty()
        expect(page.get_by_label("V2 grid current")).to_be_focused()

    @pytest.mark.case("C3")
    def test_two_exchanged_are_one_question_and_can_be_exchanged_back(self, page: Page) -> None:
        type_in(page, "V1 grid current", "1.14")
        type_in(page, "V2 grid current", "1,30")
        expect(asked(page, "V1 grid current").locator("p")).to_have_text(
            "V1 grid current and V2 grid current each fit the other's place: exchanged?"
        )
        expect(asked(page, "V2 grid current")).to_be_empty()
        for label in ("V1 grid current", "V2 grid current"):
            expect(row_of(page, label).locator("[data-mark]")).to_contain_text("doubtful")
        page.get_by_role("button", name="exchange them").click()
        expect(page.get_by_label("V1 grid current")).to_have_value("1,30")
        expect(page.get_by_label("V2 grid current")).to_have_value("1.14")
        expect(asked(page, "V1 grid current")).to_be_empty()

    def test_values_of_another_programme_are_not_held_against_this_one(
        self, page: Page, sheet: Transmitter
    ) -> None:
        sheet.meters.filter(code="v1_grid_current").update(moves="fast")
        page.goto(ADDRESS)
        type_in(page, "V1 grid current", "1.03")
        expect(asked(page, "V1 grid current")).not_to_be_empty()
        page.keyboard.press("F2")
        expect(asked(page, "V1 grid current")).to_be_empty()
        expect(row_of(page, "V1 grid current").locator("[data-hint]")).to_be_hidden()

    def test_limits_are_marked_beside_the_question(self, page: Page, sheet: Transmitter) -> None:
        make_limit(sheet.meters.get(code="ht_current"))
        page.goto(ADDRESS)
        type_in(page, "HT current", "15.4")
        expect(row_of(page, "HT current").locator("[data-mark]")).to_contain_text("high, alarm")
        expect(asked(page, "HT current")).to_contain_text("Expected 11.0")


@pytest.mark.case("C14")
class TestOneCause:
    def test_one_ratio_is_one_question_for_the_page(self, page: Page) -> None:
        for label, text in AT_TWO_THIRDS.items():
            type_in(page, label, text)
        cause = page.locator("[data-one-cause]")
        expect(cause).to_contain_text("all stand at 0.63 of what is expected")
        expect(cause.get_by_role("link", name="Change of state")).to_be_visible()
        for label in AT_TWO_THIRDS:
            expect(asked(page, label)).to_be_empty()
        type_in(page, "HT current", "11.0")
        expect(cause).to_be_empty()
        expect(asked(page, "HT voltage")).not_to_be_empty()

    def test_question_in_sight_covers_no_field_that_has_the_focus(
        self, open_page: OpenPage, shift: Person, sheet: Transmitter
    ) -> None:
        page = open_page(shift, NARROW)
        page.goto(ADDRESS)
        for label, text in AT_TWO_THIRDS.items():
            type_in(page, label, text)
        cause = page.locator("[data-one-cause]")
        for label in METERS:
            page.get_by_label(label, exact=True).focus()
            field = page.get_by_label(label, exact=True).bounding_box()
            notice = cause.bounding_box()
            assert field
            assert notice
            assert field["y"] + field["height"] <= notice["y"] or field["y"] > notice["y"]


@pytest.mark.need(9)
class TestConfirmed:
    def test_same_value_typed_again_is_confirmed_and_kept_so(self, page: Page) -> None:
        type_in(page, "V1 grid current", "1.03")
        type_in(page, "V1 grid current", "1,03")
        expect(page.get_by_label("V1 grid current")).to_have_value("1,03=")
        expect(asked(page, "V1 grid current")).to_be_empty()
        expect(row_of(page, "V1 grid current").locator("[data-mark]")).to_contain_text("confirmed")
        page.get_by_role("button", name="Save round").click()
        expect(page.locator(".values")).to_contain_text("confirmed")
        reading = Reading.objects.get()
        assert (reading.value, reading.mark, reading.text) == (1.03, "=", "")

    def test_button_confirms_as_well(self, page: Page) -> None:
        type_in(page, "conductivity", "1.7")
        page.get_by_role("button", name="it reads so").click()
        expect(page.get_by_label("conductivity")).to_have_value("1.7=")
        expect(page.get_by_label("conductivity")).to_be_focused()
        expect(asked(page, "conductivity")).to_be_empty()

    def test_two_that_read_so_are_both_confirmed(self, page: Page) -> None:
        type_in(page, "V1 grid current", "1.14")
        type_in(page, "V2 grid current", "1.30")
        page.get_by_role("button", name="they read so").click()
        expect(page.get_by_label("V1 grid current")).to_have_value("1.14=")
        expect(page.get_by_label("V2 grid current")).to_have_value("1.30=")

    def test_one_digit_mended_and_back_is_not_read_twice(self, page: Page) -> None:
        field = page.get_by_label("V1 grid current")
        type_in(page, "V1 grid current", "1.03")
        field.focus()
        for key in ("End", "Backspace", "3", "Enter"):
            page.keyboard.press(key)
        expect(field).to_have_value("1.03")
        expect(asked(page, "V1 grid current")).not_to_be_empty()

    def test_good_value_typed_twice_stays_as_it_is(self, page: Page) -> None:
        for _time in range(2):
            type_in(page, "HT current", "11.0")
        expect(page.get_by_label("HT current")).to_have_value("11.0")

    @pytest.mark.case("C26")
    def test_marks_are_those_of_the_server(
        self, page: Page, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(port, "hints", lambda *_: {})
        page.goto(ADDRESS)
        mark = row_of(page, "HT current").locator("[data-mark]")
        for text in (*SIGNED, "1.0", "3.9", "4.0", "0", "19+"):
            page.get_by_label("HT current").fill(text)
            page.get_by_label("HT voltage").focus()
            at_once = mark.inner_text().strip()
            with page.expect_navigation():
                page.get_by_role("button", name="Check").click()
            assert (text, mark.inner_text().strip()) == (text, at_once)


class TestNothingIsHeldUp:
    def test_press_on_save_is_not_missed_when_a_question_comes(self, page: Page) -> None:
        page.get_by_label("air temperature").fill("42")
        page.get_by_role("button", name="Save round").click()
        expect(page.get_by_text("Saved as entry")).to_be_visible()
        assert Reading.objects.get().value == 42

    def test_question_waits_until_the_pointer_is_released(self, page: Page) -> None:
        page.get_by_label("HT current").fill("1.10")
        box = page.get_by_label("HT voltage").bounding_box()
        assert box
        page.mouse.move(box["x"] + 5, box["y"] + 5)
        page.mouse.down()
        expect(page.get_by_label("HT voltage")).to_be_focused()
        page.wait_for_timeout(100)
        expect(asked(page, "HT current")).to_be_empty()
        page.mouse.up()
        expect(asked(page, "HT current")).not_to_be_empty()

    def test_question_and_answer_need_no_network(self, page: Page) -> None:
        page.wait_for_load_state("networkidle")
        requests: list[str] = []
        page.on("request", lambda request: requests.append(request.url))
        type_in(page, "HT current", "1.10")
        page.get_by_role("button", name="take 11.0").click()
        expect(page.get_by_label("HT current")).to_have_value("11.0")
        assert requests == []

    def test_what_comes_back_from_a_lost_page_is_asked_about_again(self, page: Page) -> None:
        type_in(page, "HT current", "1.10")
        type_in(page, "conductivity", "1.7")
        page.get_by_role("button", name="it reads so conductivity").click()
        page.goto(ADDRESS)
        expect(asked(page, "HT current")).to_contain_text("read it again")
        expect(page.get_by_label("conductivity")).to_have_value("1.7=")
        expect(asked(page, "conductivity")).to_be_empty()

    def test_without_javascript_the_expected_value_is_shown_and_the_round_saved(
        self, open_page: OpenPage, shift: Person, sheet: Transmitter
    ) -> None:
        page = open_page(shift, js=False)
        page.goto(ADDRESS)
        expect(row_of(page, "HT current")).to_contain_text("expected 11.0 ± 0.1")
        page.get_by_label("HT current").fill("1.10")
        page.get_by_role("button", name="Save round").click()
        assert Round.objects.count() == 1
        assert Reading.objects.get().mark == ""

    def test_page_without_references_asks_nothing(
        self, page: Page, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(port, "hints", lambda *_: {})
        page.goto(ADDRESS)
        type_in(page, "HT current", "1.10")
        expect(page.locator("[data-asked]")).to_have_count(0)


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["1440", "390"])
@pytest.mark.parametrize("is_dark", [False, True], ids=["light", "dark"])
def test_questions_fit_and_are_accessible(
    open_page: OpenPage, shift: Person, sheet: Transmitter, size: tuple[int, int], is_dark: bool
) -> None:
    page = open_page(shift, size, dark=is_dark)
    page.goto(ADDRESS)
    look = f"{size[0]}-{'dark' if is_dark else 'light'}"
    for label, text in ONE_OF_EACH.items():
        type_in(page, label, text)
    expect(asked(page, "conductivity")).not_to_be_empty()
    assert_good(page, f"second-look-{look}")
    for label, text in AT_TWO_THIRDS.items():
        type_in(page, label, text)
    expect(page.locator("[data-one-cause]")).not_to_be_empty()
    assert_good(page, f"one-cause-{look}")


def assert_good(page: Page, name: str) -> None:
    assert_accessible(page)
    assert_no_sideways_scroll(page)
    save_screenshot(page, name)
