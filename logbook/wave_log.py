"""What the log knows of a transmitter's waves: dial settings run by run, coils put in."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from itertools import pairwise

import pandas as pd

from logbook.dial_settings import (
    Between,
    Setting,
    best_known,
    between,
    by_power,
    first_settings,
    good_runs,
)
from logbook.frames import reading_frame, standing_points, state_entries
from logbook.models import Entry, Kind, Reading
from logbook.queries import newest_numbers
from logbook.times import minute_of
from station.models import CoilSet, Meter, Transmitter, Wave
from station.quantities import COUPLING_DIAL, DIALS

# Long enough that a wave of the same season of last year is still known.
LOOK_BACK = timedelta(days=400)


@dataclass(frozen=True)
class Neighbours:
    """A setting for a wave that the log does not know, from two waves of its coil set."""

    meter: Meter
    found: Between


class WaveLog:
    """Settings of the dials of one transmitter as known at an instant."""

    def __init__(self, transmitter: Transmitter, now: datetime) -> None:
        self.transmitter, self.now = transmitter, now
        self.dials = list(transmitter.meters.filter(quantity__in=DIALS))

    @cached_property
    def runs(self) -> pd.DataFrame:
        return good_runs(standing_points(self.transmitter, self.now - LOOK_BACK, self.now))

    @cached_property
    def settings(self) -> pd.DataFrame:
        ids = [meter.pk for meter in self.dials]
        since, until = minute_of(self.now - LOOK_BACK), minute_of(self.now) + 1
        return first_settings(self.runs, reading_frame(self.transmitter, ids, since, until))

    @cached_property
    def tubes_since(self) -> pd.Timestamp | None:
        """When a tube of this transmitter was last changed."""
        moves = Entry.objects.current().filter(
            transmitter=self.transmitter, kind=Kind.TUBE, observed_at__lt=self.now
        )
        last = moves.order_by("-observed_at").values_list("observed_at", flat=True).first()
        return pd.Timestamp(last) if last else None

    def best_known(self, frequency_khz: float, antenna: str) -> dict[int, Setting]:
        """By meter; empty where the log holds no good change to this wave and antenna."""
        return best_known(
            self.runs,
            self.settings,
            frequency_khz=frequency_khz,
            antenna=antenna,
            tubes_since=self.tubes_since,
        )

    def neighbours(self, frequency_khz: float, coil_set: CoilSet) -> list[Neighbours]:
        """The tuning dials for a new wave; none where two waves of its coil set do not span it."""
        waves = Wave.objects.filter(transmitter=self.transmitter, coil_set=coil_set)
        known = {
            wave.frequency_khz: self.best_known(wave.frequency_khz, wave.antenna.code)
            for wave in waves.select_related("antenna")
        }
        found = []
        for meter in self.dials:
            medians = {khz: of[meter.pk].median for khz, of in known.items() if meter.pk in of}
            value = between(medians, frequency_khz)
            if value is not None and meter.quantity != COUPLING_DIAL:
                found.append(Neighbours(meter, value))
        return found

    def coupling_by_power(self, frequency_khz: float) -> dict[float, Setting]:
        for meter in self.dials:
            if meter.quantity == COUPLING_DIAL and meter.pk in self.settings.columns:
                return by_power(self.runs, self.settings[meter.pk], frequency_khz)
        return {}

    def standing_dials(self) -> dict[int, Reading]:
        """The newest number of each dial by meter."""
        return newest_numbers([meter.pk for meter in self.dials], minute_of(self.now) + 1)

    def coil_insertions(self) -> Counter[str]:
        """How often each coil set was put in, over the whole log."""
        stated = (
            state_entries(self.transmitter)
            .filter(statechange__coil_set__isnull=False)
            .order_by("observed_at", "no")
            .values_list("statechange__coil_set__code", flat=True)
        )
        return Counter(now for before, now in pairwise(["", *stated]) if now != before)
