"""The closed list of a transmitter's operating states, and which readings each makes live.

Source: common practice, no source.
"""

from django.db import models
from django.utils.translation import gettext_lazy as _

from station.quantities import AERIAL, ANY, FILAMENTS, HT, RF


class State(models.TextChoices):
    OFF = "off", _("off")
    BLACK_HEAT = "black_heat", _("black heat")
    WARMING = "warming", _("warming")
    STANDBY = "standby", _("standby")
    NO_DRIVE = "no_drive", _("HT on, no drive")
    TEST_LOAD = "test_load", _("test into load")
    ON_AIR = "on_air", _("on air, full power")
    REDUCED = "reduced", _("on air, reduced power")
    RECYCLING = "recycling", _("recycling")
    TRIPPED = "tripped", _("tripped, locked out")
    ISOLATED = "isolated", _("isolated for work")


ON_AIR_STATES = frozenset({State.ON_AIR, State.REDUCED})

LIVE_STATES: dict[str, frozenset[str]] = {
    ANY: frozenset(State.values),
    FILAMENTS: frozenset(
        {State.STANDBY, State.NO_DRIVE, State.TEST_LOAD, State.ON_AIR, State.REDUCED}
    ),
    HT: frozenset({State.NO_DRIVE, State.TEST_LOAD, State.ON_AIR, State.REDUCED}),
    RF: frozenset({State.TEST_LOAD, State.ON_AIR, State.REDUCED}),
    AERIAL: ON_AIR_STATES,
}

# In which states an hour counter runs. Black heat is less than rated voltage, and counted apart.
FILAMENTS_UP = LIVE_STATES[FILAMENTS] | {State.WARMING, State.RECYCLING, State.TRIPPED}
HT_UP = LIVE_STATES[HT]

# Which state commonly follows which; any other move is asked about, never refused.
USUAL_MOVES: dict[str, frozenset[str]] = {
    State.OFF: frozenset({State.BLACK_HEAT, State.WARMING, State.ISOLATED}),
    State.BLACK_HEAT: frozenset({State.WARMING, State.OFF}),
    State.WARMING: frozenset({State.STANDBY, State.BLACK_HEAT, State.OFF, State.TRIPPED}),
    State.STANDBY: frozenset(
        {State.NO_DRIVE, State.TEST_LOAD, State.ON_AIR, State.REDUCED}
        | {State.BLACK_HEAT, State.OFF, State.TRIPPED}
    ),
    State.NO_DRIVE: frozenset(
        {State.TEST_LOAD, State.ON_AIR, State.REDUCED, State.STANDBY, State.TRIPPED}
    ),
    State.TEST_LOAD: frozenset({State.STANDBY, State.NO_DRIVE, State.RECYCLING, State.TRIPPED}),
    State.ON_AIR: frozenset(
        {State.REDUCED, State.NO_DRIVE, State.STANDBY, State.RECYCLING, State.TRIPPED}
    ),
    State.REDUCED: frozenset(
        {State.ON_AIR, State.NO_DRIVE, State.STANDBY, State.RECYCLING, State.TRIPPED}
    ),
    State.RECYCLING: frozenset({State.ON_AIR, State.REDUCED, State.STANDBY, State.TRIPPED}),
    State.TRIPPED: frozenset({State.STANDBY, State.OFF, State.ISOLATED, State.BLACK_HEAT}),
    State.ISOLATED: frozenset({State.OFF}),
}


class Modulation(models.TextChoices):
    """How the programme was while a round was read."""

    ON = "on", _("programme on")
    PAUSED = "paused", _("programme paused")
    CARRIER = "carrier", _("carrier alone for 20 minutes")


class PowerSetBy(models.TextChoices):
    TAP = "tap", _("HT tap")
    COUPLING = "coupling", _("coupling")
