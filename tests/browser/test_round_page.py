"""A round typed in Chromium: keyboard alone, marks at once, nothing lost."""

from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import Locator, Page, expect

from logbook.models import Reading, Round
from logbook.slots import slot_text
from station.models import Person, Transmitter
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
TEXTS = (
    *(
        "12.4",
        "12,4",
        "13.2",
        "14",
        "11.6",
        "10.8",
        "9",
        "12.5",
        "13.13",
        "12.4?",
        "12.4*",
        "~12.4",
    ),
    *(
        "/",
        "*",
        "-",
        "+",
        ">20",
        "20+",
        "<0.2",
        "0.2-",
        "44",
        "-1",
        "abc",
        "12 A",
        "12 kV",
        ".5",
        "1.2.3",
    ),
)


@pytest.fixture
def sheet(shift: Person, transmitter: Transmitter) -> Transmitter:
    """T1 on air for three hours, with two limited anode meters and a modulator that moves."""
    for code in ("v1_anode_current", "v2_anode_current"):
        make_limit(make_meter(transmitter, code))
    moved = make_meter(transmitter, "modulator", panel_group="Modulator", moves="fast")
    make_limit(moved, modulation="carrier")
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
    return transmitter


def mark_of(page: Page, code: str) -> Locator:
    return page.locator(f"#id_cell-{code}-mark")


@pytest.mark.parametrize("size", [WIDE, NARROW])
@pytest.mark.parametrize("is_dark", [False, True])
def test_page_is_accessible_and_fits(
    open_page: OpenPage,
    shift: Person,
    sheet: Transmitter,
    size: tuple[int, int],
    is_dark: bool,
) -> None:
    page = open_page(shift, size, dark=is_dark)
    page.goto(ADDRESS)
    page.get_by_label("v1 anode current").fill("14.2")
    page.get_by_label("v2 anode current").fill("44")
    assert_accessible(page)
    assert_no_sideways_scroll(page)
    save_screenshot(page, f"round-{size[0]}-{'dark' if is_dark else 'light'}")


@pytest.mark.need(8)
def test_keyboard_alone_types_and_saves_a_round(
    open_page: OpenPage, shift: Person, sheet: Transmitter
) -> None:
    page = open_page(shift)
    page.goto(ADDRESS)
    page.get_by_label("v1 anode current").focus()
    for text in ("14,2", "/", "44"):
        page.keyboard.type(text)
        page.keyboard.press("Enter")
    expect(mark_of(page, "v1_anode_current")).to_contain_text("high, alarm")
    expect(mark_of(page, "v2_anode_current")).to_contain_text("not running")
    expect(mark_of(page, "modulator")).to_contain_text("to be re-read")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Have a second look")).to_be_visible()
    assert list(Reading.objects.order_by("meter__sheet_order").values_list("value", "code")) == [
        (14.2, ""),
        (None, "R"),
        (None, "T"),
    ]


def test_saved_page_is_accessible_and_same_value_again_is_confirmed(
    open_page: OpenPage, shift: Person, sheet: Transmitter
) -> None:
    page = open_page(shift, NARROW)
    page.goto(ADDRESS)
    page.get_by_label("v1 anode current").fill("14.2")
    page.get_by_role("button", name="Save round").click()
    assert_accessible(page)
    assert_no_sideways_scroll(page)
    save_screenshot(page, "round-saved-390")
    page.get_by_label("v1 anode current").fill("14.2")
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    expect(page.locator(".values")).to_contain_text("confirmed")


@pytest.mark.need(8)
def test_marks_of_the_browser_are_those_of_the_server(
    open_page: OpenPage, shift: Person, sheet: Transmitter
) -> None:
    page = open_page(shift)
    page.goto(ADDRESS)
    field, mark = page.get_by_label("v1 anode current"), mark_of(page, "v1_anode_current")
    for text in TEXTS:
        field.fill(text)
        at_once = mark.inner_text()
        page.get_by_role("button", name="Check").click()
        assert (text, mark.inner_text()) == (text, at_once)


@pytest.mark.need(4)
def test_one_key_changes_the_programme_and_with_it_limits_and_marks(
    open_page: OpenPage, shift: Person, sheet: Transmitter
) -> None:
    page = open_page(shift)
    page.goto(ADDRESS)
    page.get_by_label("modulator").fill("14.2")
    expect(mark_of(page, "modulator")).to_contain_text("no reference yet")
    page.keyboard.press("F2")
    expect(page.get_by_label("programme paused")).to_be_checked()
    expect(mark_of(page, "modulator")).to_contain_text("high, alarm")


@pytest.mark.need(87)
def test_group_gets_its_minute_when_its_first_cell_is_typed(
    open_page: OpenPage, shift: Person, sheet: Transmitter
) -> None:
    page = open_page(shift)
    page.goto(ADDRESS)
    page.get_by_label("modulator").press_sequentially("1")
    expect(page.locator("[name=seen-0]")).to_have_value("")
    expect(page.locator("[name=seen-1]")).not_to_have_value("")


def test_what_was_typed_comes_back_after_the_page_was_lost_and_is_forgotten_when_saved(
    open_page: OpenPage, shift: Person, sheet: Transmitter
) -> None:
    page = open_page(shift)
    slot = slot_text(datetime.now(UTC).replace(minute=0))
    page.goto(f"{ADDRESS}?slot={slot}")
    page.get_by_label("v1 anode current").press_sequentially("12.4")
    page.goto(f"{ADDRESS}?slot={slot}")
    expect(page.get_by_label("v1 anode current")).to_have_value("12.4")
    expect(page.get_by_text("is back")).to_be_visible()
    page.get_by_role("button", name="Save round").click()
    page.goto(f"{ADDRESS}?slot={slot}")
    expect(page.get_by_label("v1 anode current")).to_have_value("")


def test_change_of_state_is_two_keys_away_and_comes_back_with_what_was_typed(
    open_page: OpenPage, shift: Person, sheet: Transmitter
) -> None:
    page = open_page(shift)
    page.goto(ADDRESS)
    page.get_by_label("v1 anode current").press_sequentially("0")
    page.keyboard.press("F4")
    page.wait_for_url("**/state?*")
    assert_accessible(page)
    page.get_by_label("standby", exact=True).check()
    page.keyboard.press("Enter")
    page.wait_for_url("**/round?*")
    expect(page.get_by_label("v1 anode current")).to_have_value("0")
    expect(page.locator(".facts").first).to_contain_text("standby")


def test_without_javascript_enter_checks_and_saves_nothing(
    open_page: OpenPage, shift: Person, sheet: Transmitter
) -> None:
    page = open_page(shift, js=False)
    page.goto(ADDRESS)
    page.get_by_label("v1 anode current").fill("14.2")
    page.keyboard.press("Enter")
    expect(mark_of(page, "v1_anode_current")).to_contain_text("high, alarm")
    expect(page.get_by_label("v1 anode current")).to_have_value("14.2")
    assert not Round.objects.exists()
    page.get_by_role("button", name="Save round").click()
    assert Round.objects.count() == 1


@pytest.mark.parametrize("size", [WIDE, NARROW])
def test_state_page_and_list_are_accessible_and_fit(
    open_page: OpenPage, shift: Person, sheet: Transmitter, size: tuple[int, int]
) -> None:
    page = open_page(shift, size)
    for address in ("/log/T1/state", "/log/"):
        page.goto(address)
        assert_accessible(page)
        assert_no_sideways_scroll(page)
