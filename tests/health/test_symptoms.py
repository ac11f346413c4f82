"""Each pattern of the trade's list, put as signs by hand, is told as that pattern."""

import pytest

from health.rules.sign_groups import REGIONS
from health.rules.signs import Sign
from health.rules.symptom_table import ROWS, Context
from health.rules.symptoms import NO_MATCH, ranked, unknown
from health.symptom_words import SIGN_WORDS, TEXTS

Moved = tuple[str, float] | tuple[str, float, str]
UP, DOWN = 1.6, -1.6
STILL = [
    *("ht", "ht current", "ht sum", "driver volts", "driver", "anode", "grid", "bias", "forward"),
    *("feeder", "efficiency", "steam", "drop", "conductivity", "leakage", "coupling", "mains"),
    *("mains power", "reflection dry", "reflection wet"),
]
STILL_PARTS = {
    "V1": ("anode apart", "grid apart", "filament volts", "filament current", "level"),
    "V2": ("anode apart", "grid apart", "filament volts", "filament current", "level"),
    "M1": ("idle", "idle apart", "tone", "filament volts", "filament current"),
    "M2": ("idle", "idle apart", "tone", "filament volts", "filament current"),
    "l1": ("leg", "leg apart"),
    "l2": ("leg", "leg apart"),
    "raw": ("flow", "rise", "heat"),
    "loop": ("flow", "rise", "heat"),
    "condensate": ("above raw",),
    "anode_tune": ("dial",),
    "drive_tune": ("dial",),
}


def plant(
    *moved: tuple[str, float] | tuple[str, float, str], is_sudden: bool = False
) -> list[Sign]:
    """A short-wave set in which nothing stands out but what is given."""
    sizes = {(name, ""): 0.0 for name in STILL}
    sizes |= {(name, part): 0.0 for part, names in STILL_PARTS.items() for name in names}
    for name, size, *part in moved:
        sizes[name, part[0] if part else ""] = size
    return [
        Sign(name, part, size, 0.25, 1 if is_sudden else 12) for (name, part), size in sizes.items()
    ]


def apart(name: str, first: str, second: str, size: float) -> list[tuple[str, float, str]]:
    return [(name, size, first), (name, -size, second)]


ALL_FILAMENTS = [("filament volts", DOWN, part) for part in ("V1", "V2", "M1", "M2")]

PATTERNS = [
    (
        "S1",
        [(one, DOWN) for one in ("ht", "driver volts", "anode", "grid", "driver", "forward")]
        + [("leg", DOWN, "l1"), ("leg", DOWN, "l2")],
    ),
    (
        "S3",
        [("anode", UP), ("grid", DOWN), ("efficiency", DOWN), ("steam", UP), ("rise", UP, "raw")],
    ),
    ("S4", [("coupling", UP), ("anode", DOWN), ("grid", UP)]),
    ("S5", [("coupling", DOWN), ("anode", UP), ("grid", DOWN)]),
    ("S6", [("grid", DOWN), ("bias", DOWN), ("driver", DOWN)]),
    ("S7", [("driver", UP), ("grid", -0.6)]),
    ("S8", [*apart("anode apart", "V2", "V1", DOWN), *apart("grid apart", "V2", "V1", DOWN)]),
    ("S9", [("filament current", DOWN, "M2")]),
    ("S10", [("filament volts", DOWN, "V1"), ("filament current", -0.8, "V1")]),
    ("S12", apart("grid apart", "V1", "V2", DOWN)),
    ("S13", [("dial", UP, "anode_tune")]),
    (
        "S15",
        [
            *apart("anode apart", "V1", "V2", UP),
            *apart("leg apart", "l1", "l2", UP),
            ("leg", UP, "l1"),
        ],
    ),
    ("S16", [("leg", DOWN, "l1"), ("leg", UP, "l2"), *apart("leg apart", "l1", "l2", -2.4)]),
    ("S18", [("reflection wet", 2.4)]),
    ("S21", [("leg", DOWN, "l2"), *apart("leg apart", "l2", "l1", DOWN), ("feeder", -0.8)]),
    ("S22", [("efficiency", UP), ("forward", UP)]),
    ("S23", [("ht sum", UP), ("ht current", UP)]),
    ("S24", [("flow", DOWN, "raw"), ("rise", UP, "raw")]),
    ("S25", [("above raw", UP, "condensate")]),
    ("S26", [("heat", DOWN, "raw"), ("rise", DOWN, "raw")]),
    ("S27", [("level", DOWN, "V2")]),
    ("S28", [("conductivity", UP)]),
    ("S30", [("leakage", UP)]),
    ("S31", [("idle", UP, "M1"), *apart("idle apart", "M1", "M2", UP)]),
    ("S32", [("tone", DOWN, "M1")]),
    ("S37", ALL_FILAMENTS),
    ("S38", [("drop", UP)]),
]
WITH_CONTEXT = [
    ("S2", [("ht", DOWN), ("driver volts", DOWN)], Context.HUM),
    ("S11", apart("grid apart", "V1", "V2", DOWN), Context.TRIPS_OFTEN),
    ("S14", apart("anode apart", "V1", "V2", UP), Context.TUBES_SWAPPED),
    ("S17", [("reflection dry", UP), ("reflection wet", UP)], Context.ONE_AERIAL),
    ("S19", [("reflection dry", UP), ("reflection wet", UP)], Context.EVERY_AERIAL),
    ("S33", [("anode", DOWN)], Context.CARRIER_SHIFT),
    ("S34", [], Context.TRIPS_ON_ONE_WAVE),
    ("S35", [], Context.TRIPS_WHEN_DAMP),
    ("S36", [], Context.TRIPS_AT_HT),
    ("S39", [], Context.SAME_AS_BEFORE),
]
SUDDEN = [
    ("S29", [("conductivity", UP)], ()),
    ("S20", [("reflection dry", UP)], (Context.AFTER_WAVE_CHANGE,)),
]


class TestPatterns:
    @pytest.mark.parametrize(("name", "moved"), PATTERNS, ids=[name for name, _ in PATTERNS])
    def test_signs_of_a_pattern_are_told_as_it(self, name: str, moved: list) -> None:
        assert ranked(plant(*moved))[0].id == name

    @pytest.mark.parametrize(
        ("name", "moved", "context"), WITH_CONTEXT, ids=[one[0] for one in WITH_CONTEXT]
    )
    def test_what_it_goes_with_tells_it(self, name: str, moved: list, context: Context) -> None:
        assert ranked(plant(*moved), {context})[0].id == name

    @pytest.mark.parametrize(("name", "moved", "contexts"), SUDDEN, ids=["S29", "S20"])
    def test_what_came_at_once(self, name: str, moved: list, contexts: tuple) -> None:
        assert ranked(plant(*moved, is_sudden=True), contexts)[0].id == name

    def test_every_row_is_tested_here(self) -> None:
        tested = {one[0] for one in (*PATTERNS, *WITH_CONTEXT, *SUDDEN)}
        assert tested == {f"S{number}" for number in range(1, 40)}

    def test_the_tube_is_named(self) -> None:
        signs = plant(("filament current", DOWN, "M2"))
        assert ranked(signs)[0].part == "M2"


class TestNoMatch:
    def test_two_things_that_no_pattern_joins(self) -> None:
        signs = plant(("flow", DOWN, "raw"), ("rise", UP, "raw"), ("idle", 2.4, "M1"))
        assert ranked(signs)[0].id == NO_MATCH

    def test_what_falls_where_only_a_rise_is_known(self) -> None:
        assert ranked(plant(("mains", -3.0)))[0].id == NO_MATCH

    def test_heat_that_lacks_only_while_it_warms(self) -> None:
        signs = plant(("heat", DOWN, "raw"), ("rise", DOWN, "raw"))
        assert ranked(signs, {Context.WHILE_WARMING})[0].id == NO_MATCH

    def test_warming_says_nothing_of_a_strand(self) -> None:
        """A filament's current does not wait for the water."""
        signs = plant(("filament current", DOWN, "V2"), ("rise", -0.4, "raw"))
        assert ranked(signs, {Context.WHILE_WARMING})[0].id == "S9"

    def test_condensate_that_is_colder_is_no_fouled_condenser(self) -> None:
        """S25 wants it warmer: that heat, rise and steam may fall with it is not enough."""
        signs = plant(
            *[("steam", -1.4), ("rise", -1.3, "raw"), ("heat", -1.2, "raw")],
            ("above raw", -0.85, "condensate"),
        )
        assert "S25" not in [one.id for one in ranked(signs)]

    def test_flow_a_little_low_is_not_what_another_sign_is_asked_about(self) -> None:
        """The driver's current raised the flag; S24 says nothing of it."""
        signs = plant(("driver", -0.85), ("flow", -0.45, "raw"), ("rise", 0.3, "raw"))
        assert ranked(signs)[0].id != "S24"

    def test_two_regions_are_stranger_than_two_signs_of_one(self) -> None:
        """Both pairs are in no row together: flow and level are of the water both."""
        one_region = unknown(plant(("flow", DOWN, "raw"), ("level", DOWN, "V1")))
        two_regions = unknown(plant(("flow", DOWN, "raw"), ("idle", DOWN, "M1")))
        assert one_region > two_regions

    def test_the_nearest_rows_are_told_after_it(self) -> None:
        signs = plant(("flow", DOWN, "raw"), ("rise", UP, "raw"), ("idle", 1.4, "M1"))
        assert "S24" in [one.id for one in ranked(signs)]

    def test_a_missing_sign_says_nothing(self) -> None:
        signs = [one for one in plant(("level", DOWN, "V1")) if one.name != "reflection wet"]
        assert ranked(signs)[0].id == "S27"


class TestTable:
    def test_the_rows_are_the_trades_thirty_nine(self) -> None:
        assert [row.id for row in ROWS] == [f"S{number}" for number in range(1, 40)]

    def test_every_row_has_its_words(self) -> None:
        assert set(TEXTS) == {row.id for row in ROWS}

    def test_every_sign_of_a_row_has_words(self) -> None:
        named = {
            name.removeprefix("own ").removeprefix("other ")
            for row in ROWS
            for way in row.ways
            for name in way
        }
        assert named <= set(SIGN_WORDS)

    def test_every_sign_has_its_region(self) -> None:
        assert set(REGIONS) == set(SIGN_WORDS)
