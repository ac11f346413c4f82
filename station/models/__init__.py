"""What the station has: people, transmitters, meters, limits, antennas and waves."""

from station.models.antenna import Antenna, CoilSet, Wave
from station.models.commissioned import Commissioned
from station.models.limit import Limit, Normal, Priority
from station.models.meter import Instrument, Meter
from station.models.person import Person
from station.models.schedule import Authorisation, ScheduleLine, ScheduleVersion
from station.models.transmitter import (
    PowerLevel,
    RoundInterval,
    Socket,
    Stage,
    Station,
    StationOwned,
    Transmitter,
    TubeType,
)
from station.models.tube import Tube

__all__ = [
    "Antenna",
    "Authorisation",
    "CoilSet",
    "Commissioned",
    "Instrument",
    "Limit",
    "Meter",
    "Normal",
    "Person",
    "PowerLevel",
    "Priority",
    "RoundInterval",
    "ScheduleLine",
    "ScheduleVersion",
    "Socket",
    "Stage",
    "Station",
    "StationOwned",
    "Transmitter",
    "Tube",
    "TubeType",
    "Wave",
]
