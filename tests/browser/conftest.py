"""A headless Chromium that tells of every console message and every request off the host."""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.test import Client
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Request,
    sync_playwright,
)

pytest.register_assert_rewrite("tests.browser.pages")

from tests.browser.pages import WIDE, OpenPage  # noqa: E402

CHROMIUM = shutil.which("chromium") or "/usr/bin/chromium"
FLAGS = (
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
).split()


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
    contexts: list[BrowserContext] = []
    complaints: list[str] = []

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

    def on_request(request: Request) -> None:
        if not request.url.startswith((url, "data:", "blob:")):
            complaints.append(f"request to {request.url}")

    def on_console(message: ConsoleMessage) -> None:
        if message.location["url"]:  # axe, which the test itself brings in, has no address
            complaints.append(f"console: {message.text}")

    page.on("console", on_console)
    page.on("pageerror", lambda error: complaints.append(f"error: {error}"))
    page.on("request", on_request)
