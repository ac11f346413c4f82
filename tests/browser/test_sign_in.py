"""The page before all others, in Chromium: it must serve everybody without a mouse."""

import re

import pytest
from playwright.sync_api import expect

from station.models import Person
from tests.browser.pages import (
    NARROW,
    WIDE,
    OpenPage,
    assert_accessible,
    assert_no_sideways_scroll,
    save_screenshot,
)

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.mark.parametrize("where", ["sign-in", "start"])
@pytest.mark.parametrize("size", [WIDE, NARROW])
@pytest.mark.parametrize("is_dark", [False, True])
def test_the_way_in_is_accessible_and_fits(
    open_page: OpenPage, size: tuple[int, int], is_dark: bool, where: str
) -> None:
    """The start stands before an empty database alone."""
    if where == "sign-in":
        Person.objects.create_user("operator", password="four quiet words here")
    page = open_page(size=size, dark=is_dark)
    page.goto("/sign-in")
    expect(page).to_have_url(re.compile(f"/{where}$"))
    assert_accessible(page)
    assert_no_sideways_scroll(page)
    save_screenshot(page, f"{where}-{size[0]}-{'dark' if is_dark else 'light'}")


def test_keyboard_alone_signs_in_and_a_wrong_password_gets_a_sentence(open_page: OpenPage) -> None:
    Person.objects.create_user("operator", password="four quiet words here")
    page = open_page()
    page.goto("/sign-in")
    page.get_by_label("Name").fill("operator")
    page.keyboard.press("Tab")
    page.keyboard.type("not the password")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_be_visible()
