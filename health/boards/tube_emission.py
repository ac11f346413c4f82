"""One tube's emission and filament: what is known, on what it stands, what to do next."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from health.emission import EmissionBook, Standing, step_test
from health.formulas.arrays import divided
from health.formulas.filament import life_factor
from health.gap import Gap, build_gap
from health.rules.emission import Emission, Statement, judge_steps, statement
from health.rules.filament_steps import Advice, Makers, Setting, next_setting
from health.rules.heater import Heater
from health.tube_heater import tube_heater
from logbook.checks import NO_SIGN
from logbook.hour_book import HourBook
from logbook.models import CheckMade
from logbook.tube_card import StepLine, TubeCard, card_of, stays_of
from logbook.tube_stays import Stay
from station.models import Socket, Tube, TubeType


@dataclass(frozen=True)
class Life:
    """The life by the voltage as it was left last; ``factor`` None without an exponent."""

    volts: float
    rated: float
    exponent: float | None
    factor: float | None


@dataclass(frozen=True)
class TubeEmission:
    """``socket`` is None for a tube that stands in none: then no meter speaks of it, and
    ``heater`` and ``gap`` are None. ``life`` is None where no setting was written."""

    card: TubeCard
    socket: Socket | None
    statement: Statement
    advice: Advice
    life: Life | None
    heater: Heater | None
    gap: Gap | None
    is_due: bool

    @property
    def tube(self) -> Tube:
        return self.card.tube


def build_tube_emission(tube: Tube, now: datetime, gap_hours: float) -> TubeEmission:
    mine = stays_of(tube)
    book = HourBook(tube.station, mine, now)
    card = card_of(tube, mine, book, now)
    stay = next((line for line in card.stays if line.stay.until is None), None)
    said, heater = in_socket(card, mine, book, now) if stay else (statement_of_card(card), None)
    settings = [setting(line) for line in card.settings]
    advice = next_setting(
        settings,
        card.filament.hours,
        makers(tube.tube_type),
        is_emission_down=said.state in (Emission.WEAK, Emission.FALLING),
    )
    return TubeEmission(
        card=card,
        socket=stay.socket if stay else None,
        statement=said,
        advice=advice,
        life=life(settings, tube.tube_type),
        heater=heater,
        gap=build_gap(gap_hours, tube.tube_type, stay.socket, now) if stay else None,
        is_due=advice.due is not None and advice.due <= now,
    )


def in_socket(
    card: TubeCard, mine: Sequence[Stay], book: HourBook, now: datetime
) -> tuple[Statement, Heater]:
    """Of a tube in its socket, with what its filament's readings say."""
    standing = Standing(card.tube, mine, card.filament.hours)
    socket = book.sockets[standing.socket_id]
    pair = [one.pk for one in book.sockets.values() if one.stage_id == socket.stage_id]
    emission = EmissionBook(card.tube.station, book, pair)
    heater = tube_heater(
        socket,
        standing.since,
        now,
        lambda at: emission.hours_at(standing, at),
    )
    return emission.statement(standing, has_heater_step=heater.has_step_down), heater


def statement_of_card(card: TubeCard) -> Statement:
    """Of a tube in no socket: its step tests alone."""
    steps = [step_test(line.check, line.filament.hours) for line in card.steps]
    return statement([judge_steps(steps, card.filament.hours)], steps)


def setting(line: StepLine) -> Setting:
    made: CheckMade = line.check
    return Setting(
        at=made.entry.observed_at,
        hours=line.filament.hours,
        found_v=made.facts["found_v"],
        left_v=made.facts["left_v"],
        has_sign=made.facts["sign"] != NO_SIGN,
    )


def makers(of: TubeType) -> Makers:
    return Makers(of.filament_voltage_v, of.filament_minimum_v, of.run_in_h)


def life(settings: Sequence[Setting], of: TubeType) -> Life | None:
    if not settings or settings[-1].left_v <= 0:
        return None
    volts, rated, exponent = settings[-1].left_v, of.filament_voltage_v, of.life_exponent
    ratio = divided(volts, rated)
    factor = None if exponent is None else float(life_factor(ratio, exponent))
    return Life(volts, rated, exponent, factor)
