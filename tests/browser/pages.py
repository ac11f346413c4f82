"""What the tests in Chromium ask of every page, and the sizes they look at it in."""

import os
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page

WIDE, NARROW = (1440, 900), (390, 844)
AXE = Path(__file__).parent.parent / "vendor" / "axe" / "axe.min.js"
AXE_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]

# What reaches past the window's edge, if the page can be pushed sideways at all.
WIDER = """() => {
  const edge = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= edge) return [];
  return [...document.querySelectorAll("body *")]
    .filter((node) => node.getBoundingClientRect().right > edge)
    .map((node) => `${edge} px: ${node.outerHTML.slice(0, 120)}`);
}"""
OpenPage = Callable[..., Page]


def assert_accessible(page: Page) -> None:
    """axe finds nothing against WCAG 2.0 to 2.2, A and AA."""
    page.evaluate(AXE.read_text())
    found = page.evaluate(
        "tags => axe.run({runOnly: {type: 'tag', values: tags}, preload: false})", AXE_TAGS
    )
    broken = [
        f"{violation['id']}: {node['html'][:160]}"
        for violation in found["violations"]
        for node in violation["nodes"]
    ]
    assert broken == []


def assert_no_sideways_scroll(page: Page) -> None:
    """Nothing makes the whole page wider than the window; what does is named."""
    assert page.evaluate(WIDER) == []


def save_screenshot(page: Page, name: str) -> None:
    """A picture to look at, when the environment's SCREENSHOTS names a folder."""
    folder = os.environ.get("SCREENSHOTS")
    if folder:
        page.screenshot(path=Path(folder) / f"{name}.png", full_page=True)
