"""The browser's rules of the second look find what the server's own find."""

from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Browser, Page

from health.rules.slips import slip_of

SCRIPTS = Path(__file__).parents[2] / "logbook" / "static" / "logbook" / "js"


@pytest.fixture(scope="module")
def script(browser: Browser) -> Iterator[Page]:
    """A blank page with the rules alone."""
    page = browser.new_page()
    page.add_script_tag(path=SCRIPTS / "second_look.js")
    yield page
    page.close()


def field(name: str, value: float | None, expected: float, **over: Any) -> dict[str, Any]:
    facts = {"expected": expected, "sigma": 0.02, "reach": 0.08, "step": 0.02, "decimals": 2}
    facts |= {"isInverse": False, "isPower": False, "pair": "", **over}
    return {"name": name, "value": value, "isConfirmed": False, "facts": facts}


def questions(script: Page, *fields: dict[str, Any]) -> Any:
    return script.evaluate("fields => secondLook.questions(fields)", list(fields))


def of_server(
    value: float, expected: float, sigma: float, step: float, decimals: int, *, is_water: bool
) -> tuple[str, str]:
    """The kind of slip and the text that is offered."""
    near = SimpleNamespace(value=expected, sigma=sigma)
    slip = slip_of(value, decimals, near, step, is_inverse_unit=is_water)
    return slip.kind, "" if slip.offer is None else f"{slip.offer:.{decimals}f}"


@pytest.mark.need(9)
class TestSlips:
    @pytest.mark.parametrize(
        ("value", "decimals", "expected", "sigma", "step", "kind", "offer"),
        [
            pytest.param(
                1.10, 2, 11.0, 0.05, 0.1, "decimal", "11.00", marks=pytest.mark.case("C1")
            ),
            pytest.param(1.1, 1, 11.0, 0.05, 0.1, "decimal", "11.0", marks=pytest.mark.case("C1")),
            pytest.param(110, 1, 11.0, 0.05, 0.1, "decimal", "11.0", marks=pytest.mark.case("C1")),
            (10.5, 0, 10500.0, 40.0, 50.0, "decimal", "10500"),
            (1000.0, 2, 1.0, 0.01, 0.01, "decimal", "1.00"),
            (-6.4, 0, -640.0, 5.0, 10.0, "decimal", "-640"),
            pytest.param(1.03, 2, 1.30, 0.02, 0.02, "turned", "1.30", marks=pytest.mark.case("C2")),
            (21.4, 1, 12.4, 0.1, 0.2, "turned", "12.4"),
            (14.2, 1, 12.4, 0.1, 0.2, "turned", "12.4"),
            (-460.0, 0, -640.0, 5.0, 10.0, "turned", "-640"),
            (0.601, 3, 0.610, 0.001, 0.001, "turned", "0.610"),
            (15.4, 1, 12.4, 0.1, 0.2, "digit", "12.4"),
            (390.0, 0, 490.0, 4.0, 5.0, "digit", "490"),
            (-5.4, 1, -5.9, 0.02, 0.1, "digit", "-5.9"),
            (12.9, 1, 12.4, 0.1, 0.1, "digit", "12.4"),
            pytest.param(1.7, 1, 0.6, 0.03, 0.1, "inverse", "0.6", marks=pytest.mark.case("C21")),
            pytest.param(0.4, 1, 2.5, 0.1, 0.1, "inverse", "2.5", marks=pytest.mark.case("C21")),
            (370.0, 0, 490.0, 4.0, 5.0, "", ""),
            (0.0, 1, 12.4, 0.1, 0.2, "", ""),
            (2.5, 0, 8.0, 0.5, 1.0, "digit", "8"),
            (0.125, 2, 0.52, 0.004, 0.01, "digit", "0.52"),
        ],
    )
    def test_offer_is_the_servers(
        self,
        script: Page,
        value: float,
        decimals: int,
        expected: float,
        sigma: float,
        step: float,
        kind: str,
        offer: str,
    ) -> None:
        is_water = kind == "inverse"
        facts = {"sigma": sigma, "step": step, "decimals": decimals, "isInverse": is_water}
        reach = max(4 * sigma, 1.5 * step)
        [look] = questions(script, field("a", value, expected, reach=reach, **facts))["looks"]
        assert (look["kind"], look["offer"]) == (kind, offer)
        scales = {"expected": expected, "sigma": sigma, "step": step, "decimals": decimals}
        assert of_server(value, **scales, is_water=is_water) == (kind, offer)

    def test_thousand_slips_of_a_seeded_hand(self, script: Page) -> None:
        """What was expected is written wrong in each way, and in none."""
        rng = np.random.default_rng(7)
        fields, wanted = [], []
        for number in range(1000):
            decimals = int(rng.integers(0, 4))
            step = float(rng.choice([1, 2, 5])) * 10.0**-decimals
            expected = float(rng.uniform(20, 3000)) * step
            facts = {"sigma": float(rng.uniform(0.2, 3)) * step, "step": step, "decimals": decimals}
            signs = list(f"{expected:.{decimals}f}")
            places = [place for place, sign in enumerate(signs) if sign.isdigit()]
            signs[int(rng.choice(places))] = str(rng.integers(0, 10))
            typed = [float("".join(signs)), 1 / expected, expected * 10, float(rng.uniform(0, 99))]
            value = round(float(rng.choice(typed)), decimals)
            is_water = bool(rng.integers(0, 2))
            # Nothing is near here: every value is asked about.
            fields.append(
                field(f"m{number}", value, expected, reach=-1, isInverse=is_water, **facts)
            )
            wanted.append(of_server(value, expected, **facts, is_water=is_water))
        looks = questions(script, *fields)["looks"]
        assert [(look["kind"], look["offer"]) for look in looks] == wanted
        assert {kind for kind, _offer in wanted} == {"", "decimal", "turned", "inverse", "digit"}

    @pytest.mark.parametrize(
        ("value", "decimals"),
        [(0.5, 0), (1.5, 0), (2.5, 0), (0.125, 2), (0.375, 2), (12.45, 1), (1e22, 1), (-2.5, 0)],
    )
    def test_halves_are_written_as_the_server_writes_them(
        self, script: Page, value: float, decimals: int
    ) -> None:
        written = script.evaluate(
            "([one, places]) => secondLook.fixed(one, places)", [value, decimals]
        )
        assert float(written) == float(f"{value:.{decimals}f}")


@pytest.mark.case("C3")
class TestExchanged:
    @pytest.mark.parametrize(
        ("first", "second", "kinds"),
        [
            (1.30, 1.14, {"a": "swapped"}),
            (1.14, 1.30, {}),
            (1.30, 1.60, {"a": "digit", "b": "digit"}),
            (1.30, 1.30, {"a": "digit"}),
        ],
    )
    def test_neighbours_whose_values_fit_each_other(
        self, script: Page, first: float, second: float, kinds: dict[str, str]
    ) -> None:
        one, other = field("a", first, 1.14, pair="b"), field("b", second, 1.30)
        found = questions(script, one, other)["looks"]
        assert {look["name"]: look["kind"] for look in found} == kinds

    def test_blank_cell_between_the_two_is_passed_over(self, script: Page) -> None:
        one, other = field("a", 1.30, 1.14, pair="b"), field("c", 1.14, 1.30)
        blank = field("b", None, 1.20, pair="c")
        [look] = questions(script, one, blank, other)["looks"]
        assert (look["kind"], look["other"]) == ("swapped", "c")

    def test_meter_of_another_kind_between_the_two_parts_them(self, script: Page) -> None:
        one, other = field("a", 1.30, 1.14, pair="c"), field("c", 1.14, 1.30)
        looks = questions(script, one, field("b", 24.0, 24.0), other)["looks"]
        assert [(look["name"], look["other"]) for look in looks] == [("a", ""), ("c", "")]


@pytest.mark.case("C14")
@pytest.mark.parametrize(
    ("ratios", "found"),
    [
        ([0.632] * 8 + [0.62, 0.64], 0.632),
        ([0.63, 0.635, 0.628, 0.632, 1.0], 0.632),
        ([0.63, 0.63, 0.64, 0.64], 0.635),
        ([0.63, 0.63, 0.63], None),
        ([1.01] * 9, None),
        ([0.63, 0.9, 1.0, 1.1, 0.8, 0.7], None),
        ([0.0] * 5, None),
    ],
)
def test_one_ratio_of_all_that_go_with_the_power(
    script: Page, ratios: list[float], found: float | None
) -> None:
    fields = [
        field(f"m{number}", 10 * ratio, 10.0, isPower=True) for number, ratio in enumerate(ratios)
    ]
    answer = questions(script, *fields)
    if found is None:
        assert answer["ratio"] is None
    else:
        assert answer["ratio"] == pytest.approx(found, abs=0.0005)
        assert answer["looks"] == []
