"""The flags and one flag in Chromium: both sizes, light and dark, answered by keyboard."""

from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import expect

from health.models import Episode
from station.models import Meter, Person, Transmitter
from tests.browser.pages import (
    NARROW,
    WIDE,
    OpenPage,
    assert_accessible,
    assert_no_sideways_scroll,
    save_screenshot,
)
from tests.make import make_limit, make_round, make_state

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("read_twice")]


@pytest.fixture
def episode(engineer: Person, transmitter: Transmitter, meter: Meter) -> Episode:
    """A flag that returned an hour ago, and one that stands."""
    make_limit(meter)
    hour = datetime.now(UTC).replace(minute=0, second=0, microsecond=0)
    make_state(engineer, transmitter, observed_at=hour - timedelta(hours=9), state="on_air")
    for back, value in ((4, "15"), (3, "12.4"), (2, "9.8")):
        slot = hour - timedelta(hours=back)
        make_round(engineer, transmitter, {meter.code: value}, slot=slot)
    return Episode.objects.latest("since_minute")


def address(episode: Episode) -> str:
    return f"/flags/T1/{episode.meter.code}/{episode.rule}/{episode.first_no}"


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
@pytest.mark.parametrize("is_dark", [False, True], ids=["light", "dark"])
def test_pages_are_accessible_and_fit(
    open_page: OpenPage, engineer: Person, episode: Episode, size: tuple[int, int], is_dark: bool
) -> None:
    page = open_page(engineer, size, dark=is_dark)
    for name, where in (("flags", "/flags"), ("flag", address(episode))):
        page.goto(where)
        assert_accessible(page)
        assert_no_sideways_scroll(page)
        save_screenshot(page, f"{name}-{size[0]}-{'dark' if is_dark else 'light'}")


def test_flag_is_acknowledged_by_keyboard_alone(
    open_page: OpenPage, engineer: Person, episode: Episode
) -> None:
    page = open_page(engineer)
    page.goto(address(episode))
    page.get_by_label("Comment").focus()
    page.keyboard.type("meter is being compared")
    page.keyboard.press("Enter")
    expect(page.get_by_text("Written in the log.")).to_be_visible()
    expect(page.locator("main")).to_contain_text("acknowledged: meter is being compared")


@pytest.mark.need(32)
@pytest.mark.parametrize("size", [WIDE, (320, 800)], ids=["wide", "narrowest"])
def test_flag_is_shelved_by_keyboard_and_taken_off_again(
    open_page: OpenPage, engineer: Person, episode: Episode, size: tuple[int, int]
) -> None:
    page = open_page(engineer, size)
    page.goto(address(episode))
    page.get_by_text("Put it on the shelf").first.focus()
    page.keyboard.press("Enter")
    page.get_by_label("in 4 hours").focus()
    page.keyboard.press("Space")
    page.get_by_label("Why it can wait").focus()
    page.keyboard.type("compared at noon")
    save_screenshot(page, f"flag-shelving-{size[0]}")
    assert_accessible(page)
    assert_no_sideways_scroll(page)
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_contain_text("shelved until")
    page.goto("/flags?show=shelved")
    assert_accessible(page)
    assert_no_sideways_scroll(page)
    save_screenshot(page, f"flags-shelved-{size[0]}")
    page.get_by_role("button", name="Take it off the shelf").press("Enter")
    expect(page.get_by_text("Written in the log.")).to_be_visible()
    expect(page.locator("[data-level=shelved]")).to_have_count(0)
