"""The change of wave on a tablet: few touches, and nothing lost when the network is."""

from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from logbook.models import WaveChange
from station.models import Person, Transmitter
from tests.browser.pages import (
    NARROW,
    WIDE,
    OpenPage,
    assert_accessible,
    assert_no_sideways_scroll,
    save_screenshot,
)
from tests.make import SLOT, make_meter, make_round, make_state

pytestmark = pytest.mark.django_db(transaction=True)

MOST_TOUCHES = 12


@pytest.fixture
def dials(shift: Person, transmitter: Transmitter) -> None:
    """Two dials and the power, read in a run on the wave that will be set again."""
    scale = {"full_scale": 1000, "step": 1, "decimals": 0, "unit": "div"}
    make_meter(transmitter, "tune", label="anode-tune dial", quantity="dial", **scale)
    make_meter(transmitter, "coupling", label="coupling dial", quantity="coupling_dial", **scale)
    make_meter(
        transmitter,
        "forward",
        label="forward power",
        quantity="forward_power",
        unit="kW",
        full_scale=250,
        step=1,
    )
    make_state(shift, transmitter)
    make_round(shift, transmitter, {"tune": "490", "coupling": "609"})
    make_state(shift, transmitter, observed_at=SLOT + timedelta(hours=2), state="standby")


class Touches:
    """Counts every tap and every key, as a thumb would."""

    def __init__(self, page: Page) -> None:
        self.page, self.count = page, 0

    def tap(self, role: Any, name: str) -> None:
        self.page.get_by_role(role, name=name).click()
        self.count += 1

    def type(self, label: str, text: str) -> None:
        self.page.get_by_label(label).click()
        self.page.keyboard.type(text)
        self.count += 1 + len(text)


@pytest.mark.need(18)
@pytest.mark.usefixtures("dials")
@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["1440", "390"])
class TestChange:
    def test_few_touches_where_nothing_deviates(
        self, open_page: OpenPage, shift: Person, size: tuple[int, int]
    ) -> None:
        page = open_page(shift, size)
        page.goto("/log/")
        hand = Touches(page)
        hand.tap("link", "Change of wave T1")
        hand.tap("link", "6105 kHz")
        expect(page.get_by_label("As left coupling dial")).to_have_value("609")
        hand.tap("button", "HT off")
        hand.tap("button", "RF on")
        hand.tap("button", "Full power")
        hand.type("As left forward power", "199")
        assert_no_sideways_scroll(page)
        assert_accessible(page)
        save_screenshot(page, f"wave-{size[0]}")
        hand.tap("button", "Save the change")
        expect(page.locator("main")).to_contain_text("Saved as entry")
        assert hand.count <= MOST_TOUCHES
        readings = WaveChange.objects.get().as_left.round.readings
        assert {r.meter.code: r.value for r in readings.select_related("meter")} == {
            "tune": 490,
            "coupling": 609,
            "forward": 199,
        }

    def test_lost_network_loses_nothing(
        self, open_page: OpenPage, shift: Person, size: tuple[int, int]
    ) -> None:
        page = open_page(shift, size)
        page.goto("/log/T1/wave?khz=6105")
        page.get_by_role("button", name="RF on").click()
        page.get_by_label("As left coupling dial").fill("615")
        stamped = page.get_by_label("RF on, UTC").input_value()
        page.goto("/log/T1/wave?khz=6105")
        expect(page.get_by_label("RF on, UTC")).to_have_value(stamped)
        expect(page.get_by_label("As left coupling dial")).to_have_value("615")
        page.get_by_role("button", name="Save the change").click()
        expect(page.locator("main")).to_contain_text("Saved as entry")
        page.goto("/log/T1/wave?khz=6105")
        expect(page.get_by_label("RF on, UTC")).to_have_value("")
        assert WaveChange.objects.count() == 1
