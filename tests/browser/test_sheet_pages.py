"""The day sheet, entries, corrections and the hall in Chromium: both sizes, keyboard, print."""

import re
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import expect

from logbook.models import Round
from logbook.services.corrections import correct_values
from station.models import Person, Transmitter
from tests.browser.pages import (
    NARROW,
    WIDE,
    OpenPage,
    assert_accessible,
    assert_no_sideways_scroll,
    save_screenshot,
)
from tests.make import make_limit, make_meter, make_round, make_state, typed_for

pytestmark = pytest.mark.django_db(transaction=True)
NOON = datetime.now(UTC).replace(hour=12, minute=0, second=0, microsecond=0)
SLOT = NOON - timedelta(days=1)
SHEET = f"/log/T1/day/{SLOT:%Y-%m-%d}"
GROUPS = ("HT", "Final", "Filaments", "Feeder", "Water")


@pytest.fixture
def row(engineer: Person, transmitter: Transmitter) -> Round:
    """Yesterday's noon: thirty meters, one corrected, one off scale; and a duplicate of it."""
    make_state(engineer, transmitter, observed_at=SLOT - timedelta(hours=7))
    make_state(
        engineer,
        transmitter,
        observed_at=SLOT - timedelta(hours=6),
        state="on_air",
        frequency_khz=6105.0,
        power_kw=200.0,
    )
    meters = [
        make_meter(transmitter, f"current_of_place_{number}", panel_group=GROUPS[number // 6])
        for number in range(30)
    ]
    values = {meter.code: "12.4" for meter in meters}
    values |= {meters[0].code: "1.24", meters[1].code: ">20", meters[2].code: "/"}
    for meter in meters[:3]:
        make_limit(meter)
    saved = make_round(engineer, transmitter, values, slot=SLOT)
    make_round(engineer, transmitter, {**values, meters[3].code: "12.2"}, slot=SLOT)
    cells = {meters[0]: typed_for(meters[0], "12.4")}
    correct_values(saved, cells, reason="decimal slip", by=engineer, at=SLOT)
    return saved


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
@pytest.mark.parametrize(
    "address",
    [
        "/hall",
        SHEET,
        "/log/entry/3",
        "/log/entry/5",
        "/log/entry/3/correct",
        "/log/entry/3/anew",
        "/log/entry/3/void",
        "/log/entry/3/choose",
        "/log/entry/1/correct",
        "/log/T1/remark",
    ],
)
def test_page_is_accessible_and_fits(
    open_page: OpenPage, engineer: Person, row: Round, address: str, size: tuple[int, int]
) -> None:
    page = open_page(engineer, size)
    assert page.goto(address).ok
    assert_no_sideways_scroll(page)
    assert_accessible(page)
    save_screenshot(page, f"{re.sub('[^a-z0-9]+', '-', address.strip('/'))}-{size[0]}")


@pytest.mark.need(75)
def test_day_sheet_prints_each_sheet_on_one_page_across(
    open_page: OpenPage, engineer: Person, row: Round
) -> None:
    page = open_page(engineer)
    page.goto(SHEET)
    page.emulate_media(media="print")
    printed = page.pdf(prefer_css_page_size=True)
    sheets = page.locator(".sheet").count()
    assert len(re.findall(rb"/Type\s*/Page[^s]", printed)) == sheets == 4
    assert b"/MediaBox [0 0 841" in printed


@pytest.mark.need(75)
def test_blank_sheet_prints_each_sheet_on_one_page_across(
    open_page: OpenPage, engineer: Person, transmitter: Transmitter
) -> None:
    for number in range(60):
        make_meter(transmitter, f"m{number}", panel_group=f"Group {number // 6}")
    page = open_page(engineer)
    page.goto("/log/T1/blank")
    printed = page.pdf(prefer_css_page_size=True)
    sheets = page.locator(".blank-sheet").count()
    assert len(re.findall(rb"/Type\s*/Page[^s]", printed)) == sheets == 4
    assert b"/MediaBox [0 0 841" in printed


def test_sheet_scrolls_sideways_by_keyboard(
    open_page: OpenPage, engineer: Person, row: Round
) -> None:
    page = open_page(engineer, NARROW)
    page.goto(SHEET)
    region = page.get_by_role("region", name="Readings of sheet 1")
    region.focus()
    for _press in range(20):
        page.keyboard.press("ArrowRight")
    expect(region).not_to_have_js_property("scrollLeft", 0)


@pytest.mark.need(52)
def test_value_is_corrected_by_keyboard_alone(
    open_page: OpenPage, engineer: Person, row: Round
) -> None:
    page = open_page(engineer)
    page.goto(f"/log/entry/{row.entry.no}/correct")
    page.get_by_label("current of place 5 should be").focus()
    page.keyboard.type("12.2")
    page.get_by_label("Reason for the correction").focus()
    page.keyboard.type("misread")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("Corrected by entry")
    expect(page.get_by_role("main")).to_contain_text("misread")
