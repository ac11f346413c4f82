"""A headless Chromium that tells of every console message and every request off the host."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.test import Client
from playwright.sync_api import Browser, Page, sync_playwright

CHROMIUM = "/usr/bin/chromium"
FLAGS = (
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
).split()
WIDE, NARROW = (1440, 900), (390, 844)
AXE = Path(__file__).parent.parent / "vendor" / "axe" / "axe.min.js"
AXE_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]

OpenPage = Callable[..., Page]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything in this folder needs Chromium and a server that sees committed rows."""
    for item in items:
        if Path(__file__).parent in Path(item.path).parents:
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.real_port)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture
def open_page(browser: Browser, live_server: Any) -> Iterator[OpenPage]:
    """``open_page(person, size=WIDE, dark=False, js=True)``: a page signed in as that person."""
    contexts, complaints = [], []

    def open_one(
        person: Any = None, size: tuple[int, int] = WIDE, *, dark: bool = False, js: bool = True
    ) -> Page:
        context = browser.new_context(
            base_url=live_server.url,
            viewport={"width": size[0], "height": size[1]},
            locale="en-GB",
            timezone_id="UTC",
            color_scheme="dark" if dark else "light",
            java_script_enabled=js,
        )
        contexts.append(context)
        if person is not None:
            context.add_cookies([session_cookie(person, live_server.url)])
        page = context.new_page()
        listen(page, live_server.url, complaints)
        return page

    yield open_one
    for context in contexts:
        context.close()
    assert complaints == []


def session_cookie(person: Any, url: str) -> Any:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    name = django_settings.SESSION_COOKIE_NAME
    return {"name": name, "value": client.cookies[name].value, "url": url}


def listen(page: Page, url: str, complaints: list[str]) -> None:
    """Collect console messages, page errors and requests that leave the host."""

    def on_request(request: Any) -> None:
        if not request.url.startswith((url, "data:", "blob:")):
            complaints.append(f"request to {request.url}")

    page.on("console", lambda message: complaints.append(f"console: {message.text}"))
    page.on("pageerror", lambda error: complaints.append(f"error: {error}"))
    page.on("request", on_request)


def assert_accessible(page: Page) -> None:
    """axe finds nothing against WCAG 2.0 to 2.2, A and AA."""
    page.evaluate(AXE.read_text())
    found = page.evaluate(
        "tags => axe.run(document, {runOnly: {type: 'tag', values: tags}})", AXE_TAGS
    )
    broken = [
        f"{violation['id']}: {node['html'][:160]}"
        for violation in found["violations"]
        for node in violation["nodes"]
    ]
    assert broken == []


def assert_no_sideways_scroll(page: Page) -> None:
    """Nothing makes the whole page wider than the window."""
    assert page.evaluate(
        "document.documentElement.scrollWidth <= document.documentElement.clientWidth"
    )


def save_screenshot(page: Page, name: str) -> None:
    """A picture to look at, when the environment's SCREENSHOTS names a folder."""
    folder = os.environ.get("SCREENSHOTS")
    if folder:
        page.screenshot(path=Path(folder) / f"{name}.png", full_page=True)
