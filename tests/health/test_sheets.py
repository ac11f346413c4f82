"""Rounds parted into channels: programme, weather, what settles, where a channel has a level."""

import numpy as np
import pandas as pd
import pytest

from health.rules.channels import Heeds, MeterFacts, channels_of, heeds_of
from health.rules.sheets import (
    COLD_AFTER_MIN,
    COLD_SETTLING_MIN,
    SETTLING_MIN,
    Rounds,
    grace_of,
    sheets_of,
)

FEEDER = MeterFacts(1, "feeder_current", "feeder_current", live="aerial", moves="fast")
STEAM = MeterFacts(2, "steam_rate", "steam_rate", moves="slow", tap_exponent=None)
LEVEL = MeterFacts(3, "level", "water_level", live="any")
METERS = {one.meter_id: one for one in (FEEDER, STEAM, LEVEL)}
CHANNELS = channels_of(METERS.values())


def rounds_of(modulation: str, *, is_wet: bool = False, minute: int = 1000) -> Rounds:
    """One round on 6105 kHz an hour and a half after the RF came on from a short break."""
    points = pd.DataFrame(
        {
            "frequency_khz": [6105.0],
            "antenna": ["A1"],
            "power_kw": [200.0],
            "set_by": ["tap"],
            "run": [7],
            "since": pd.to_datetime([(minute - 90) * 60], unit="s", utc=True),
        }
    )
    return Rounds(
        minute=np.array([minute]),
        no=np.array([1]),
        values=pd.DataFrame([[26.0, 104.0, 120.0]], columns=list(METERS)),
        is_confirmed=pd.DataFrame([[False] * 3], columns=list(METERS)),
        modulation=np.array([modulation], dtype=object),
        is_wet=np.array([is_wet]),
        points=points,
        is_on_air=np.array([True]),
        rf_ends=np.array([minute - 100]),
    )


def spoken(rounds: Rounds) -> set[str]:
    sheets = sheets_of(rounds, METERS, CHANNELS)
    return {
        one.key for column, one in enumerate(CHANNELS) if not np.isnan(sheets.values[0, column])
    }


@pytest.mark.need(4)
class TestProgramme:
    def test_each_programme_has_its_own_channels(self) -> None:
        assert spoken(rounds_of("on")) == {"feeder_current on dry", "steam_rate on", "level"}

    def test_pause_gives_carrier_readings_of_what_follows_at_once(self) -> None:
        found = spoken(rounds_of("paused"))
        assert found == {"feeder_current carrier dry", "steam_rate on", "level"}

    def test_slow_meter_on_carrier_says_nothing(self) -> None:
        assert spoken(rounds_of("carrier")) == {"feeder_current carrier dry", "level"}


@pytest.mark.need(43)
class TestWeather:
    def test_wet_aerial_is_a_channel_of_its_own(self) -> None:
        assert "feeder_current on wet" in spoken(rounds_of("on", is_wet=True))

    def test_wet_readings_of_an_aerial_stand_together(self) -> None:
        """Dry ones are known by the wave as well."""
        wet = sheets_of(rounds_of("on", is_wet=True), METERS, CHANNELS)
        dry = sheets_of(rounds_of("on"), METERS, CHANNELS)
        assert wet.places[Heeds.AERIAL][0] == "A1 200 tap"
        assert dry.places[Heeds.AERIAL][0] == "6105 A1 200 tap"


@pytest.mark.parametrize(
    ("facts", "heeds"),
    [(FEEDER, Heeds.AERIAL), (STEAM, Heeds.WAVE), (LEVEL, Heeds.NOTHING)]
    + [(MeterFacts(4, "hall", "air_temperature", live="any"), Heeds.POWER)],
)
def test_meters_heed_as_much_as_moves_them(facts: MeterFacts, heeds: Heeds) -> None:
    assert heeds_of(facts) == heeds


@pytest.mark.need(16)
class TestSettling:
    def test_after_a_short_break_it_is_short(self) -> None:
        assert grace_of(np.array([1000]), np.array([990])).tolist() == [SETTLING_MIN]

    @pytest.mark.parametrize("ends", [[1000 - COLD_AFTER_MIN - 1], []])
    def test_after_a_night_it_is_long(self, ends: list[int]) -> None:
        found = grace_of(np.array([1000]), np.array(ends, dtype=np.int64))
        assert found.tolist() == [COLD_SETTLING_MIN]
