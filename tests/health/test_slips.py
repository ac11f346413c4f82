"""What a hand may have meant: each slip found, a good value left alone, one cause one question."""

import pytest

from health.rules.expected import Expected
from health.rules.slips import common_ratio, is_far, is_swapped, slip_of


class TestSlips:
    """The cases are those of the trade's list; expected values of the invented station."""

    @pytest.mark.need(9)
    @pytest.mark.parametrize(
        ("value", "decimals", "expected", "sigma", "step", "kind", "offer"),
        [
            pytest.param(1.10, 2, 11.0, 0.05, 0.1, "decimal", 11.0, marks=pytest.mark.case("C1")),
            pytest.param(110, 1, 11.0, 0.05, 0.1, "decimal", 11.0, marks=pytest.mark.case("C1")),
            pytest.param(1.03, 2, 1.30, 0.02, 0.02, "turned", 1.30, marks=pytest.mark.case("C2")),
            (21.4, 1, 12.4, 0.1, 0.2, "turned", 12.4),
            (15.4, 1, 12.4, 0.1, 0.2, "digit", 12.4),
            (370.0, 0, 490.0, 4.0, 5.0, "", None),
            pytest.param(1.7, 1, 0.6, 0.03, 0.1, "inverse", 1 / 1.7, marks=pytest.mark.case("C21")),
            (-460.0, 0, -640.0, 5.0, 10.0, "turned", -640.0),
        ],
    )
    def test_simplest_slip_is_offered(
        self,
        value: float,
        decimals: int,
        expected: float,
        sigma: float,
        step: float,
        kind: str,
        offer: float | None,
    ) -> None:
        near = Expected(expected, sigma, reach=max(4 * sigma, 1.5 * step))
        assert is_far(value, near)
        is_water = kind == "inverse"
        found = slip_of(value, decimals, near, step, is_inverse_unit=is_water)
        assert found.kind == kind
        assert found.offer == (None if offer is None else pytest.approx(offer))

    @pytest.mark.parametrize("value", [12.4, 12.6, 12.2, 12.7])
    def test_good_value_is_left_alone(self, value: float) -> None:
        assert not is_far(value, Expected(12.4, 0.1, 0.4))

    @pytest.mark.case("C3")
    def test_two_columns_exchanged(self) -> None:
        own = Expected(1.14, 0.02, 0.08), Expected(1.30, 0.02, 0.08)
        assert is_swapped(1.30, 1.14, *own)
        assert not is_swapped(1.14, 1.30, *own)
        assert not is_swapped(1.30, 1.60, *own)
        assert not is_swapped(1.30, 1.30, *own)


@pytest.mark.case("C14")
class TestOneCause:
    def test_one_ratio_of_many_meters(self) -> None:
        """80 of 200 kW by the tap: the root of 0.4 is 0.632."""
        shared = [0.632] * 8 + [0.62, 0.64]
        assert common_ratio(shared) == pytest.approx(0.632, abs=0.005)

    @pytest.mark.parametrize(
        "ratios",
        [
            [],
            [0.63, 0.63, 0.63],
            [1.01] * 9,
            [0.63, 0.9, 1.0, 1.1, 0.8, 0.7],
        ],
    )
    def test_few_or_scattered_or_near_one_are_none(self, ratios: list[float]) -> None:
        assert common_ratio(ratios) is None
