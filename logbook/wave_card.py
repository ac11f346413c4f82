"""The card of a transmitter's waves: the best-known setting of every dial, to hang at the set."""

from dataclasses import dataclass
from datetime import datetime

from logbook.ledger import Head, head
from logbook.wave_board import Wished, commissioned_words, setting_words
from logbook.wave_log import WaveLog
from logbook.words import short_digest
from station.limits import LimitBook
from station.models import Meter, Transmitter, Wave


@dataclass(frozen=True)
class CardLine:
    """One wave: for each dial its words and what the commissioning record says."""

    wave: Wave
    dials: tuple[tuple[str, str], ...]
    couplings: tuple[tuple[float, str], ...]


@dataclass(frozen=True)
class WaveCard:
    """``insertions`` is how often each coil set was put in."""

    dials: tuple[Meter, ...]
    lines: tuple[CardLine, ...]
    insertions: tuple[tuple[str, int], ...]
    head: Head | None

    @property
    def digest(self) -> str:
        return short_digest(self.head.digest) if self.head else ""


def wave_cards(transmitter: Transmitter, now: datetime) -> WaveCard:
    log, book = WaveLog(transmitter, now), LimitBook(transmitter)
    waves = transmitter.waves.select_related("antenna", "coil_set")
    counted = log.coil_insertions()
    return WaveCard(
        dials=tuple(log.dials),
        lines=tuple(card_line(wave, log, book) for wave in waves),
        insertions=tuple(sorted(counted.items())),
        head=head(transmitter.station),
    )


def card_line(wave: Wave, log: WaveLog, book: LimitBook) -> CardLine:
    known = log.best_known(wave.frequency_khz, wave.antenna.code)
    power = log.transmitter.full_power_kw
    place = Wished(wave.frequency_khz, wave.antenna.code, "", power)
    couplings = log.coupling_by_power(wave.frequency_khz)
    return CardLine(
        wave=wave,
        dials=tuple(
            (
                setting_words(known[meter.pk], meter) if meter.pk in known else "",
                commissioned_words(book, meter, place),
            )
            for meter in log.dials
        ),
        couplings=tuple((kw, f"{one.median:.0f}") for kw, one in sorted(couplings.items())),
    )
