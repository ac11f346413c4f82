"""The main job end to end, on the demo."""

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
import time_machine
from django.core.management import call_command
from playwright.sync_api import Page, expect

from health.models import Episode
from logbook.models import Reading
from tests.browser.pages import NARROW, WIDE, OpenPage, assert_no_sideways_scroll, save_screenshot

pytestmark = pytest.mark.django_db(transaction=True)

# Yesterday at an hour at which T1 is on the air; the last round of the history is due at 12:00.
NOW = datetime.now(UTC).replace(hour=12, minute=4, second=0, microsecond=0) - timedelta(days=1)
TO_BE_READ = NOW.replace(minute=0) + timedelta(hours=1)


@pytest.fixture
def passwords() -> Iterator[dict[str, tuple[str, str]]]:
    """The demo with two days of history, an hour later; user name and password by role."""
    said = StringIO()
    with time_machine.travel(NOW, tick=True):
        call_command("demo", "--days", "2", "--no-serve", stdout=said)
    found = re.findall(r"^  (\w+) +(\w+) +(\S+)$", said.getvalue(), re.MULTILINE)
    with time_machine.travel(TO_BE_READ + timedelta(minutes=5), tick=True):
        yield {role: (name, password) for role, name, password in found}


def type_and_enter(page: Page, label: str, text: str) -> None:
    page.get_by_label(label, exact=True).focus()
    page.keyboard.type(text)
    page.keyboard.press("Enter")


def sign_in(page: Page, name: str, password: str) -> None:
    """With the keyboard alone."""
    page.goto("/")
    page.get_by_label("Username").focus()
    page.keyboard.type(name)
    page.keyboard.press("Tab")
    page.keyboard.type(password)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Hall")).to_be_visible()


@pytest.mark.need(1)
@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["1440", "390"])
def test_round_is_typed_judged_corrected_and_seen(
    open_page: OpenPage, passwords: dict[str, tuple[str, str]], size: tuple[int, int]
) -> None:
    page = open_page(None, size)
    page.clock.install(time=TO_BE_READ + timedelta(minutes=5))
    sign_in(page, *passwords["shift"])
    page.get_by_role("link", name="Type the round T1").focus()
    page.keyboard.press("Enter")
    type_and_enter(page, "HT voltage", "1,00")
    type_and_enter(page, "V1 anode current", "15=")
    page.get_by_role("button", name="Save round").focus()
    page.keyboard.press("Enter")

    expect(page.get_by_role("heading", name="Have a second look")).to_be_visible()
    rules = Episode.objects.filter(since_minute=minute()).values_list("meter__code", "rule")
    assert set(rules) == {("v1_anode_current", "limit-high")}, "a slip is asked about first"
    page.get_by_label("HT voltage").first.focus()
    page.keyboard.type("10,0")
    page.get_by_role("button", name="Save what was read again").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".values")).to_contain_text("10.0")

    page.goto("/hall")
    expect(page.locator("main")).to_contain_text("V1 anode current 15.0 A")
    expect(page.locator("main")).not_to_contain_text("HT voltage 1.0")
    assert_no_sideways_scroll(page)
    save_screenshot(page, f"main-job-hall-{size[0]}")

    page.goto(f"/log/T1/day/{TO_BE_READ:%Y-%m-%d}")
    struck = page.locator("td del").filter(has_text="1.0")
    expect(struck.first).to_be_visible()
    expect(page.locator("main")).to_contain_text("V1 anode current 15.0 A")
    assert_no_sideways_scroll(page)
    save_screenshot(page, f"main-job-sheet-{size[0]}")


def minute() -> int:
    """The observed minute of the round that was just typed."""
    return Reading.objects.order_by("-pk").values_list("minute", flat=True)[0]
