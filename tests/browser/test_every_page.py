"""Every page in Chromium: accessible in both lights, usable by keyboard alone, at any zoom."""

from typing import Any

import pytest
from playwright.sync_api import Page

from tests.browser.pages import (
    NARROW,
    WIDE,
    OpenPage,
    assert_accessible,
    assert_no_sideways_scroll,
    save_screenshot,
)
from tests.test_doors import PAGES, address

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("read_twice")]

# WCAG 2.2, 1.4.10 (from memory): 1280 px at four times its size are 320 px.
REFLOW = (320, 640)
TWICE = (WIDE[0] // 2, WIDE[1] // 2)
SIZES = (WIDE, TWICE, NARROW, REFLOW)
FOCUSABLE = "a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0']"

# What can be seen and is not taken out of the order; of radio buttons of one name just one.
REACHABLE = """(wanted) => {
  const names = new Set();
  return [...document.querySelectorAll(wanted)].filter((node) => {
    const isShown = node.checkVisibility({ visibilityProperty: true });
    if (node.disabled || node.tabIndex < 0 || !isShown) return false;
    if (node.type !== "radio") return true;
    return names.size < names.add(node.name).size;
  }).length;
}"""
# The node with the focus: does it follow the one before in the page, is it shown with a line?
FOCUSED = """() => {
  const node = document.activeElement;
  if (!node || node === document.body) return null;
  const [before, style, box] = [window.last, getComputedStyle(node), node.getBoundingClientRect()];
  window.last = node;
  const follows = Node.DOCUMENT_POSITION_FOLLOWING;
  return {
    what: node.outerHTML.slice(0, 120),
    goesOn: !before || Boolean(before.compareDocumentPosition(node) & follows),
    isSeen: box.width > 0 && box.height > 0
      && style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
  };
}"""


@pytest.mark.parametrize("route", sorted(PAGES))
def test_page_in_every_light_and_size(
    open_page: OpenPage, furnished: dict[str, Any], route: str
) -> None:
    for is_dark in (False, True):
        page = open_page(furnished["engineer"], WIDE, dark=is_dark)
        answer = page.goto(address(route, furnished["good"]))
        assert answer.status < 500
        assert_accessible(page)
    for size in SIZES:
        page.set_viewport_size({"width": size[0], "height": size[1]})
        assert_no_sideways_scroll(page)
        save_screenshot(page, f"every-{route.replace('/', '-')}-{size[0]}")


@pytest.mark.parametrize("route", sorted(PAGES))
def test_page_by_keyboard_alone(open_page: OpenPage, furnished: dict[str, Any], route: str) -> None:
    """Tab goes through everything in the order of the page, is seen where it stands, and ends."""
    page = open_page(furnished["engineer"])
    page.goto(address(route, furnished["good"]))
    reachable = page.evaluate(REACHABLE, FOCUSABLE)
    page.locator(".skip").focus()
    stops = walk(page, 2 * reachable + 10)
    assert [stop["what"] for stop in stops if not stop["goesOn"]] == []
    assert [stop["what"] for stop in stops if not stop["isSeen"]] == []
    assert len(stops) >= reachable


def walk(page: Page, longest: int) -> list[dict[str, Any]]:
    """What Tab stops at, until it leaves the page; caught in it, it fails."""
    stops = []
    while len(stops) < longest:
        stop = page.evaluate(FOCUSED)
        if stop is None:
            return stops
        stops.append(stop)
        page.keyboard.press("Tab")
    raise AssertionError(f"still in the page after {longest} steps, at {stops[-1]['what']}")
