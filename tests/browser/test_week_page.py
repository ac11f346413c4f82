"""The weekly board in Chromium: drawn, led on from, printed, at all sizes."""

import re
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import expect

from health.boards.week import week_begin
from station.models import Person, Transmitter
from tests.browser.pages import (
    NARROW,
    WIDE,
    OpenPage,
    assert_accessible,
    assert_no_sideways_scroll,
    save_screenshot,
)
from tests.make import make_limit, make_meter, make_round, make_state

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("read_twice")]
MONDAY = week_begin(datetime.now(UTC)) - timedelta(days=7)
ADDRESS = f"/week/{MONDAY:%Y-%m-%d}"


@pytest.fixture
def plant(engineer: Person, transmitter: Transmitter) -> Transmitter:
    """Last Monday's rounds of power and two temperatures of rise, one power under its alarm."""
    power = make_meter(
        transmitter, "forward_power", quantity="forward_power", unit="kW", full_scale=300
    )
    make_limit(power, low_alarm=180, low_warning=188, high_warning=208, high_alarm=210)
    make_meter(transmitter, "raw_rise", quantity="temperature_rise", unit="K")
    begin = MONDAY + timedelta(hours=6)
    make_state(engineer, transmitter, observed_at=begin, state="on_air", power_kw=200.0)
    for number, value in enumerate(("201", "200", "175", "201")):
        slot = begin + timedelta(hours=number)
        make_round(engineer, transmitter, {"forward_power": value, "raw_rise": "7.2"}, slot=slot)
    make_state(
        engineer, transmitter, observed_at=begin + timedelta(hours=4), state="off", reason="end"
    )
    return transmitter


@pytest.mark.parametrize("size", [WIDE, NARROW, (1024, 768), (1920, 1080)])
@pytest.mark.parametrize("is_dark", [False, True], ids=["light", "dark"])
def test_board_is_accessible_and_fits(
    open_page: OpenPage,
    engineer: Person,
    plant: Transmitter,
    size: tuple[int, int],
    is_dark: bool,
) -> None:
    page = open_page(engineer, size, dark=is_dark)
    page.goto(ADDRESS)
    assert_accessible(page)
    assert_no_sideways_scroll(page)
    save_screenshot(page, f"week-{size[0]}-{'dark' if is_dark else 'light'}")


def test_flag_mark_leads_to_the_flag_and_day_to_its_sheet(
    open_page: OpenPage, engineer: Person, plant: Transmitter
) -> None:
    page = open_page(engineer)
    page.goto(ADDRESS)
    page.locator("[data-chart=T1-power] .flag-mark").click()
    expect(page).to_have_url(re.compile("/flags/T1/forward_power/limit-low/"))
    page.goto(ADDRESS)
    page.locator("[data-chart=T1-power] .day").nth(2).click()
    expect(page).to_have_url(re.compile(f"/log/T1/day/{MONDAY + timedelta(days=2):%Y-%m-%d}"))


def test_board_prints_on_at_most_two_pages(
    open_page: OpenPage, engineer: Person, plant: Transmitter
) -> None:
    page = open_page(engineer)
    page.goto(ADDRESS)
    printed = page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page[^s]", printed)) <= 2


def test_table_stands_for_the_chart_without_a_script(
    open_page: OpenPage, engineer: Person, plant: Transmitter
) -> None:
    page = open_page(engineer, js=False)
    page.goto(ADDRESS)
    page.get_by_text("Values Power, T1").click()
    expect(page.locator("details[open]")).to_contain_text("175")


def test_item_is_decided_and_the_week_signed_by_keyboard(
    open_page: OpenPage, engineer: Person, plant: Transmitter
) -> None:
    """On a narrow page, with values to be re-read on two days: one decided, signed with the other
    open."""
    for day in (1, 2):
        slot = MONDAY + timedelta(days=day)
        make_round(engineer, plant, {"forward_power": "abc"}, slot=slot)
    page = open_page(engineer, (320, 640))
    page.goto(ADDRESS)
    page.get_by_role("link", name=re.compile("^Decide(?! these)")).first.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Decide, week of Monday")
    assert_accessible(page)
    assert_no_sideways_scroll(page)
    page.get_by_label("watch", exact=True).press("Space")
    page.get_by_label("Reason").fill("seen")
    page.get_by_label("Reason").press("Enter")
    expect(page.locator("#decided")).to_have_text("Decided (1)")
    page.get_by_role("button", name="Sign the week").press("Enter")
    assert_accessible(page)
    assert_no_sideways_scroll(page)
    page.get_by_label("It is so").press("Space")
    page.get_by_role("button", name="Sign the week").press("Enter")
    expect(page.locator("[data-level=signed]")).to_be_visible()
    expect(page.get_by_text("Open when it was signed")).to_be_visible()
