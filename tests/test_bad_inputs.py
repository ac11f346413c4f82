"""Every address answers bad paths, queries and forms with a page of ours, never with a 500."""

import os
import re
from collections.abc import Iterator
from typing import Any
from urllib.parse import quote

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

EXAMPLES = 2000 if os.environ.get("DEEP") == "1" else 100
NOT_OURS = {"admin"}  # the framework's own pages, walked by the admin's tests

NASTY = st.sampled_from(
    ["", " ", "\x00", "0", "-1", "1e309", "nan", "inf", "9" * 30, "2026-02-30", "0001-01-01"]
    + ["9999-12-31", "24:00", "25:61", "T1", "t9", "../..", "%", "<b>", "'; --", "٢٨", "２８"]
    + ["\ud83d\udca1".encode("utf-16", "surrogatepass").decode("utf-16"), "a" * 5000, "=1+1"]
    + ["on_air", "6.105", "6105", "2026-11-25T10:00", "2026-11-25T10:00:00+00:00", "null", "[]"]
)
WORDS = NASTY | st.text(max_size=30)


def patterns(resolver: URLResolver, before: str = "") -> Iterator[tuple[str, URLPattern]]:
    """(route, pattern) of every address of ours."""
    for one in resolver.url_patterns:
        route = before + str(one.pattern)
        if isinstance(one, URLResolver):
            if one.namespace not in NOT_OURS:
                yield from patterns(one, route)
        else:
            yield route, one


ROUTES = sorted({route for route, _pattern in patterns(get_resolver())})
PLACE = re.compile(r"<(?:\w+:)?(\w+)>")


@st.composite
def requests(draw: Any, route: str, good: dict[str, str]) -> tuple[str, dict, dict]:
    """A path with good or bad parts, a query and a form with names that the pages know."""

    def part(match: re.Match[str]) -> str:
        bad = draw(st.none() | WORDS)
        return quote(good[match[1]] if bad is None else bad, safe="")

    names = st.sampled_from(sorted(FIELDS)) | st.text(max_size=10)
    path = "/" + PLACE.sub(part, route)
    query = draw(st.dictionaries(names, WORDS, max_size=4))
    form = draw(st.dictionaries(names, WORDS | st.lists(WORDS, max_size=2), max_size=12))
    return path, query, form


FIELDS = {"slot", "day", "hour", "observed_at", "kind", "modulation", "client_key", "reason"} | {
    *("state", "frequency_khz", "antenna", "coil_set", "power_kw", "set_by", "is_retune"),
    *("tube", "to", "other_to", "other_reason", "clock", "serial", "tube_type", "received_on"),
    *("old_last", "new_first", "scale_low", "full_scale", "step", "scale_law", "earlier_h"),
    *("table", "transmitter", "since", "until", "old_password", "new_password1", "new_password2"),
    *("m-ht_voltage", "ht_voltage", "action", "save", "text", "username", "password", "next"),
}


def learn_fields(client: Client, route: str, good: dict[str, str]) -> None:
    """Take the names of the page's own fields, so that the bad values reach its code."""
    path = "/" + PLACE.sub(lambda match: quote(good[match[1]], safe=""), route)
    page = client.get(path)
    if not page.streaming:
        FIELDS.update(re.findall(r'name="([^"]+)"', page.content.decode(errors="replace")))


@pytest.mark.django_db
@pytest.mark.parametrize("route", ROUTES)
def test_bad_input_is_answered(route: str, furnished: dict[str, Any]) -> None:
    client = Client(raise_request_exception=False)
    client.force_login(furnished["engineer"], backend="django.contrib.auth.backends.ModelBackend")
    learn_fields(client, route, furnished["good"])

    @settings(
        max_examples=EXAMPLES,
        derandomize=True,
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(requests(route, furnished["good"]), st.booleans())
    def answers(request: tuple[str, dict, dict], is_post: bool) -> None:
        path, query, form = request
        if not furnished["engineer"].is_authenticated:
            client.force_login(furnished["engineer"])
        answer = client.post(path, form) if is_post else client.get(path, query)
        assert answer.status_code < 500, (path, query, form if is_post else None)

    answers()
