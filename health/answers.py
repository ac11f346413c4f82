"""What health answers when the log asks through its port."""

from datetime import datetime
from typing import Any

from django.utils import timezone

from health.anew import touched_by
from health.assess import TooManyWait, assess
from health.boards.flag_lines import answers_of, lines_of
from health.boards.flags import by_need, is_listed
from health.models import Episode
from health.references import expected_values
from health.slip_looks import looks_at_draft
from logbook.models import Entry, FlagAction
from logbook.remarks import FlagRemark
from logbook.second_looks import SecondLook
from logbook.services.rounds import RoundDraft
from logbook.times import minute_of
from station.limits import LimitBook
from station.models import Transmitter

# What an import left waiting is for the command: a save does not take it on.
MOST_AT_ONCE = 100


def hints(book: LimitBook, at: datetime) -> dict[str, Any]:
    """What is expected, by meter code; a meter without it has no reference yet."""
    found = expected_values(book, at, book.transmitter.default_modulation)
    return {meter.code: one for meter, one in found.items()}


def second_look(draft: RoundDraft) -> list[SecondLook]:
    """Questions about values that look like slips."""
    book = LimitBook(draft.transmitter)
    known = expected_values(book, draft.observed_at, draft.modulation)
    return list(looks_at_draft(draft, book, known))


def remarks(transmitter: Transmitter, since: datetime, until: datetime) -> list[FlagRemark]:
    """The flags that stood in a span, each in the state in which it is now."""
    episodes = (
        Episode.objects.filter(transmitter=transmitter)
        .touching(minute_of(since), minute_of(until))
        .select_related("meter", "transmitter")
    )
    now = timezone.now()
    actions = FlagAction.objects.filter(meter__transmitter=transmitter)
    answers = answers_of(transmitter.station, actions, now)
    return [
        FlagRemark(
            meter=line.episode.meter,
            since=line.episode.since,
            until=line.episode.until,
            priority=line.episode.priority,
            words=line.words,
            level=line.life,
            state=line.state,
            is_due=line.is_waiting or (line.needs_a_person and is_listed(line, now)),
        )
        for line in sorted(lines_of(episodes, answers, now), key=by_need)
    ]


def changed(entry: Entry) -> bool:
    """Judge what an entry changed; True when it is done, False when too much waits before it."""
    touched = touched_by(entry) if entry.transmitter is None else [entry.transmitter]
    judged = [is_judged(transmitter) for transmitter in touched]
    return all(judged)


def is_judged(transmitter: Transmitter) -> bool:
    try:
        assess(transmitter, most=MOST_AT_ONCE)
    except TooManyWait:
        return False
    return True
