"""What a change of state is asked about because of the schedule, the papers and other people."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from logbook.frames import standing_points_of_all
from logbook.permits import open_permits, open_permits_of
from logbook.points import point_at
from logbook.state_questions import Question
from logbook.times import minute_of
from station.models import Antenna, Authorisation, ScheduleVersion, Transmitter
from station.schedules import broadcasts_of
from station.states import HT_UP, ON_AIR_STATES

# How long before its start a wave is set up, and how long after its stop it may stand.
AROUND = timedelta(minutes=30)


@dataclass(frozen=True)
class Wished:
    """How the transmitter would stand; None or '' is not known."""

    transmitter: Transmitter
    at: datetime
    state: str
    frequency_khz: float | None
    antenna: Antenna | None
    power_kw: float | None


def guards(wished: Wished) -> Iterator[Question]:
    """Each with a reason; none of them refuses anything."""
    if wished.state in HT_UP:
        yield from permits_out(wished)
    if wished.state not in ON_AIR_STATES:
        return
    if wished.antenna is not None:
        yield from people_on_the_antenna(wished, wished.antenna)
        yield from antenna_taken(wished, wished.antenna)
    if wished.frequency_khz is not None:
        yield from off_schedule(wished, wished.frequency_khz)
        yield from outside_authorisations(wished, wished.frequency_khz)


def permits_out(wished: Wished) -> Iterator[Question]:
    for permit in open_permits_of(wished.transmitter):
        sentence = _(
            "Permit %(number)s (%(holder)s, %(earths)s earth sticks) is still out on this "
            "transmitter. HT must not come on. If it is on all the same, say why."
        ) % {"number": permit.number, "holder": permit.holder, "earths": permit.earths}
        yield Question(f"permit:{permit.pk}", "state", sentence, needs_reason=True)


def people_on_the_antenna(wished: Wished, antenna: Antenna) -> Iterator[Question]:
    station = wished.transmitter.station
    for permit in open_permits(station).filter(antenna=antenna):
        sentence = _(
            "Permit %(number)s (%(holder)s) is still out on antenna %(code)s: somebody may be on "
            "its mast. RF must not come on. If it is on all the same, say why."
        ) % {"number": permit.number, "holder": permit.holder, "code": antenna.code}
        yield Question(f"climbing:{permit.pk}", "antenna", sentence, needs_reason=True)


def antenna_in_use(antenna: Antenna, at: datetime) -> Iterator[Question]:
    """Before a permit goes out on an antenna: whether the log has a transmitter on it."""
    transmitters = list(Transmitter.objects.filter(station=antenna.station_id))
    standing = standing_points_of_all(transmitters, at)
    for one in transmitters:
        point = point_at(standing[one.pk], minute_of(at))
        if point.antenna == antenna.code and point.state in HT_UP:
            sentence = _(
                "%(one)s has HT on and stands on antenna %(code)s by the log: lock its switch and "
                "earth the feeder first, and write that it is off."
            ) % {"one": one, "code": antenna.code}
            yield Question(f"in-use:{antenna.code}:{one.code}", "antenna", sentence)


def antenna_taken(wished: Wished, antenna: Antenna) -> Iterator[Question]:
    others = Transmitter.objects.filter(station=wished.transmitter.station_id)
    others = list(others.exclude(pk=wished.transmitter.pk))
    standing = standing_points_of_all(others, wished.at)
    for other in others:
        point = point_at(standing[other.pk], minute_of(wished.at))
        if point.state in ON_AIR_STATES and point.antenna == antenna.code:
            sentence = _("%(other)s is on the air on antenna %(code)s by the log.") % {
                "other": other,
                "code": antenna.code,
            }
            name = f"antenna-taken:{antenna.code}:{other.code}"
            yield Question(name, "antenna", sentence, needs_reason=True)


def off_schedule(wished: Wished, khz: float) -> Iterator[Question]:
    """Only where a schedule is in force at that instant."""
    station = wished.transmitter.station
    versions = ScheduleVersion.objects.filter(station=station, effective_from__lte=wished.at)
    if not versions.exists():
        return
    around = broadcasts_of(station, wished.at - AROUND, wished.at + AROUND)
    own = {b.line.frequency_khz for b in around if b.line.transmitter_id == wished.transmitter.pk}
    if khz in own:
        return
    if own:
        listed = _(", ").join(f"{one:g}" for one in sorted(own))
        sentence = _("The schedule has %(own)s kHz for this transmitter about that time.") % {
            "own": listed
        }
    else:
        sentence = _("The schedule has nothing for this transmitter about that time.")
    yield Question(f"off-schedule:{khz:g}", "frequency", sentence, needs_reason=True)


def outside_authorisations(wished: Wished, khz: float) -> Iterator[Question]:
    """Only where any authorisation of this transmitter is written down."""
    rows = list(Authorisation.objects.filter(transmitter=wished.transmitter))
    antenna = wished.antenna.pk if wished.antenna else None
    day = wished.at.date()
    if not rows or any(row.covers(khz, wished.power_kw, antenna, day) for row in rows):
        return
    sentence = _("No authorisation covers %(khz)g kHz with this power and antenna on that day.")
    yield Question(f"unauthorised:{khz:g}", "frequency", sentence % {"khz": khz}, needs_reason=True)
