"""How many flags a round and a shift had to take, held against the aims.

The aims are those of EEMUA 191 as commonly quoted (from memory), set for rounds typed by hand. A
group of flags that is taken for one cause counts once, and so does what hangs under one trip.
"""

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby

from django.utils.translation import gettext as _

from health.boards.flag_lines import STALE_AFTER, FlagLine
from health.explanations import rule_text
from health.models import NOTE
from health.rules.groups import grouped
from logbook.models import Round, Source
from logbook.shelves import duties_since
from logbook.times import minute_of
from station.models import Priority, Station

SPANS = (7, 28)
MOST_DAYS = max(SPANS)
LONGEST_SHIFT = timedelta(hours=12)
"""A duty that lasts longer was not handed over in the log: common practice, no source."""
A_ROUND, A_SHIFT, TOP = 1, 6, 10


@dataclass(frozen=True)
class LoadRow:
    """One figure over each of SPANS beside its aim."""

    label: str
    aim: str
    figures: tuple[str, ...]


@dataclass(frozen=True)
class TopLine:
    """A rule and meter that raise flags most often: ``share`` of all that were counted [%]."""

    line: FlagLine
    rule: str
    count: int
    share: float


@dataclass(frozen=True)
class Load:
    rows: tuple[LoadRow, ...]
    top: tuple[TopLine, ...]


@dataclass(frozen=True)
class SpanLoad:
    """What was counted in a span: the flags, and how many fell into each round and shift."""

    lines: tuple[FlagLine, ...]
    raised: int
    rounds: tuple[int, ...]
    shifts: tuple[int, ...]
    chattering: int
    stale: int


def build_load(station: Station, lines: Iterable[FlagLine], now: datetime) -> Load:
    """Two queries: the rounds typed by hand, and who took the duty when."""
    since = now - timedelta(days=MOST_DAYS)
    alarms = [line for line in lines if line.episode.priority != NOTE]
    slots = typed_slots(station, since, now)
    shifts = shift_begins(duties_since(station, since), since, now)
    spans = [span_load(alarms, slots, shifts, now - timedelta(days=days)) for days in SPANS]
    return Load(tuple(load_rows(spans)), tuple(top_lines(spans[-1].lines)))


def typed_slots(station: Station, since: datetime, now: datetime) -> Mapping[int, datetime]:
    """The slot of each round typed by hand, by its entry's number: a round is what somebody reads
    of all transmitters at one slot."""
    rounds = Round.objects.filter(
        station=station, slot__gte=since, slot__lte=now, duplicate_of=None, entry__ended_by=None
    ).exclude(entry__source=Source.LOGGER)
    return dict(rounds.values_list("entry__no", "slot"))


def shift_begins(duties: Sequence[datetime], since: datetime, now: datetime) -> list[datetime]:
    """When each shift began: by who took the duty, twelve hours at the most."""
    begins = [since]
    for until in (*duties, now):
        while begins[-1] + LONGEST_SHIFT < until:
            begins.append(begins[-1] + LONGEST_SHIFT)
        if until < now:
            begins.append(until)
    return begins


def counted(lines: Iterable[FlagLine]) -> list[FlagLine]:
    """The first flag of each trip and of each group that is taken for one cause."""
    own = sorted(lines, key=lambda line: (line.episode.transmitter_id, line.episode.since_minute))
    found = []
    for _transmitter, group in groupby(own, key=lambda line: line.episode.transmitter_id):
        of_one = list(group)
        trips = {line.trip.entry.pk: line for line in reversed(of_one) if line.trip}
        others = [line for line in of_one if line.trip is None]
        firsts = (one[0] for one in grouped(others, lambda line: line.episode.since_minute))
        found += [*trips.values(), *firsts]
    return found


def span_load(
    lines: Sequence[FlagLine],
    slots: Mapping[int, datetime],
    shifts: Sequence[datetime],
    since: datetime,
) -> SpanLoad:
    begin = minute_of(since)
    units = tuple(line for line in counted(lines) if line.episode.since_minute >= begin)
    of_slot = Counter(slots.get(line.episode.first_no) for line in units)
    of_shift = Counter(bisect_right(shifts, line.episode.since) for line in units)
    first = bisect_right(shifts, since)
    return SpanLoad(
        lines=units,
        raised=sum(line.episode.since_minute >= begin for line in lines),
        rounds=tuple(of_slot[slot] for slot in set(slots.values()) if slot >= since),
        shifts=tuple(of_shift[place] for place in range(first, len(shifts) + 1)),
        chattering=sum(line.is_chattering and line.episode.since_minute >= begin for line in lines),
        stale=sum(is_long(line) and stood_after(line, begin) for line in lines),
    )


def is_long(line: FlagLine) -> bool:
    return line.age > STALE_AFTER


def stood_after(line: FlagLine, minute: int) -> bool:
    return line.is_standing or line.episode.until_minute >= minute


def load_rows(spans: Sequence[SpanLoad]) -> Iterator[LoadRow]:
    rows = (
        (_("Flags raised"), "", lambda span: str(span.raised)),
        (_("Counted: one a cause, one a trip"), "", lambda span: str(len(span.lines))),
        (_("Rounds with one at most"), _("95 % or more"), lambda one: within(one.rounds, A_ROUND)),
        (_("Most in one round"), _("3 at most"), lambda span: most(span.rounds)),
        (_("Shifts with six at most"), _("all"), lambda span: within(span.shifts, A_SHIFT)),
        (_("Most in one shift"), _("6 at most"), lambda span: most(span.shifts)),
        (_("High, medium, low priority"), _("about 5, 15, 80 %"), mix),
        (_("Stood for more than a day"), _("0, or explained"), lambda span: str(span.stale)),
        (_("Chattering"), "0", lambda span: str(span.chattering)),
        (_("Share of the ten most frequent"), "", top_share),
    )
    for label, aim, figure in rows:
        yield LoadRow(label, aim, tuple(figure(span) for span in spans))


def within(counts: Sequence[int], allowed: int) -> str:
    """'98.2 % of 168'."""
    if not counts:
        return _("none")
    share = percent(sum(count <= allowed for count in counts), len(counts))
    return _("%(share).1f %% of %(all)s") % {"share": share, "all": len(counts)}


def most(counts: Sequence[int]) -> str:
    return str(max(counts, default=0))


def mix(span: SpanLoad) -> str:
    """'5, 15, 80 %'."""
    found = Counter(line.episode.priority for line in span.lines)
    shares = (f"{percent(found[priority], len(span.lines)):.0f}" for priority in Priority.values)
    return _("%s %%") % ", ".join(shares) if span.lines else _("none")


def top_share(span: SpanLoad) -> str:
    top = sum(one.count for one in top_lines(span.lines))
    return _("%.0f %%") % percent(top, len(span.lines)) if span.lines else _("none")


def top_lines(lines: Sequence[FlagLine]) -> Iterator[TopLine]:
    """The most frequent first; of equals the one that came first."""
    found = Counter((line.episode.rule, line.episode.meter_id) for line in lines)
    newest = {(line.episode.rule, line.episode.meter_id): line for line in lines}
    for key, count in found.most_common(TOP):
        line = newest[key]
        name = str(rule_text(line.episode.rule).name)
        yield TopLine(line, name, count, percent(count, len(lines)))


def percent(part: int, whole: int) -> float:
    return 100 * part / whole
