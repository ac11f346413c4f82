"""A whole shift: the keyboard in the control room, thumbs on the tablet in the hall."""

from collections.abc import Iterator
from datetime import timedelta
from io import StringIO

import pytest
import time_machine
from django.core.management import call_command
from playwright.sync_api import Page, expect

from logbook.models import Entry, Kind, Printing
from station.models import Person, ScheduleLine, Transmitter
from station.schedules import take_schedule
from tests.browser.pages import (
    NARROW,
    OpenPage,
    assert_no_sideways_scroll,
    save_screenshot,
)
from tests.make import SLOT, make_limit, make_meter, make_round, make_state, make_wave

pytestmark = pytest.mark.django_db(transaction=True)

BEGIN = SLOT + timedelta(hours=2, minutes=3)  # 0803: the round of 0800 is due


@pytest.fixture
def plant(shift: Person, engineer: Person, transmitter: Transmitter) -> Iterator[Transmitter]:
    """T1 on 6105 kHz since 0500, due on 7265 kHz at 0900; its dials are known from yesterday."""
    scale = {"full_scale": 1000, "step": 1, "decimals": 0, "unit": "div"}
    current = make_meter(transmitter)
    make_limit(current)
    make_meter(transmitter, "tune", label="anode-tune dial", quantity="dial", **scale)
    other = make_wave(transmitter, 7265.0)
    yesterday = SLOT - timedelta(days=1)
    facts = {"state": "on_air", "frequency_khz": 7265.0, "antenna": other.antenna}
    make_state(engineer, transmitter, observed_at=yesterday, is_retune=True, **facts)
    make_round(engineer, transmitter, {"tune": "294"}, slot=yesterday)
    make_state(engineer, transmitter)
    times = {"start_min": 9 * 60, "stop_min": 12 * 60, "days": "1234567"}
    line = ScheduleLine(
        station=transmitter.station, transmitter=transmitter, frequency_khz=7265.0, **times
    )
    since = SLOT - timedelta(days=30)
    take_schedule(transmitter.station, [line], effective_from=since, note="", by=engineer, at=since)
    with time_machine.travel(BEGIN, tick=True):
        yield transmitter


def press(page: Page, name: str, role: str = "button") -> None:
    """By the keyboard: to the link or button, then Enter."""
    page.get_by_role(role, name=name, exact=role == "button").first.focus()
    page.keyboard.press("Enter")


def fill(page: Page, label: str, text: str) -> None:
    """By the keyboard: to the field, over what stands in it."""
    page.get_by_label(label, exact=True).first.focus()
    page.keyboard.press("Control+A")
    page.keyboard.type(text)


def choose(page: Page, label: str, option: str) -> None:
    """By the keyboard, as a list takes the letters of what it offers."""
    page.get_by_label(label, exact=True).focus()
    page.keyboard.type(option)


def type_round(page: Page, current: str) -> None:
    page.goto("/log/T1/round")
    fill(page, "v1 anode current", current)
    press(page, "Save round")
    expect(page.locator("main")).to_contain_text("Saved as entry")


@pytest.mark.need(49)
@pytest.mark.need(87)
def test_take_over_to_countersign(
    open_page: OpenPage, shift: Person, engineer: Person, plant: Transmitter
) -> None:
    room, hall = open_page(shift), open_page(shift, NARROW)

    room.goto("/log/duty")
    press(room, "Take over", "link")
    fill(room, "Number of your qualification", "Q-7")
    press(room, "I take the duty")
    expect(room.locator("main")).to_contain_text("You are in charge")

    type_round(room, "12.4")

    with time_machine.travel(BEGIN + timedelta(minutes=55), tick=True):
        hall.goto("/log/T1/wave")
        expect(hall.get_by_label("Wave, kHz", exact=True)).to_have_value("7265")
        for stamp in ("HT off", "RF on", "Full power"):
            hall.get_by_role("button", name=stamp).click()
        assert_no_sideways_scroll(hall)
        save_screenshot(hall, "shift-wave-390")
        hall.get_by_role("button", name="Save the change").click()
        expect(hall.locator("main")).to_contain_text("Saved as entry")

    with time_machine.travel(BEGIN + timedelta(minutes=59), tick=True):
        type_round(room, "11.9")
        fill_trip(room)
        room.goto("/log/interruptions")
        press(room, "It is over", "link")
        fill(room, "What was found and done", "arc in V1, recycled")
        press(room, "Save the end")
        expect(room.locator("main")).to_contain_text("for 0:")

        of_round = Entry.objects.filter(kind=Kind.ROUND).latest("no")
        room.goto(f"/log/entry/{of_round.no}/correct")
        fill(room, "v1 anode current should be", "11.8")
        fill(room, "Reason for the correction", "misread")
        press(room, "Save the correction")
        expect(room.locator("main")).to_contain_text("Corrected by entry")

        room.goto("/log/duty/hand-over")
        expect(room.locator("main")).to_contain_text("7265 kHz")
        fill(room, "Work half done, what was bridged or defeated, spares used, advice", "oil")
        press(room, "Hand over")
        expect(room.locator("main")).to_contain_text("not countersigned")

        other = open_page(engineer)
        other.goto("/log/duty/take-over")
        expect(other.locator("main")).to_contain_text("oil")
        press(other, "Read: I take over")
        expect(other.locator("main")).to_contain_text("You are in charge")

        other.goto("/log/T1/day/2026-03-02")
        press(other, "Print for the file")
        expect(other.locator(".print-mark")).to_contain_text("First print")
        save_screenshot(other, "shift-sheet")

    assert Printing.objects.get().by == engineer
    kinds = set(Entry.objects.values_list("kind", flat=True))
    assert kinds >= {"duty", "handover", "round", "wave", "interruption", "restored", "correction"}
    call_command("verify_log", stdout=StringIO())


def fill_trip(page: Page) -> None:
    page.goto("/log/interruption")
    page.get_by_label("T1", exact=True).focus()
    page.keyboard.press("Space")
    choose(page, "Whose loss", "own")
    choose(page, "Cause, as far as it is known", "HT")
    fill(page, "First indicator", "overcurrent V1")
    press(page, "Save the interruption")
    expect(page.locator("main")).to_contain_text("Written as entry")
