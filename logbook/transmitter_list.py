"""The board of the log's own first page: the transmitters, where they stand, their last round."""

from dataclasses import dataclass
from datetime import datetime

from logbook.frames import standing_points_of_all
from logbook.models import Round
from logbook.point_words import PointWords, point_words
from logbook.points import point_at
from logbook.queries import last_rounds
from logbook.times import minute_of
from station.models import Station, Transmitter


@dataclass(frozen=True)
class TransmitterLine:
    transmitter: Transmitter
    point: PointWords
    last_round: Round | None


def transmitter_lines(station: Station, now: datetime) -> list[TransmitterLine]:
    transmitters = list(Transmitter.objects.filter(station=station))
    standing = standing_points_of_all(transmitters, now)
    rounds = last_rounds(transmitters)
    return [
        TransmitterLine(
            transmitter=one,
            point=point_words(point_at(standing[one.pk], minute_of(now))),
            last_round=rounds.get(one.pk),
        )
        for one in transmitters
    ]
