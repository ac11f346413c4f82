"""The moves of a station's tubes as the log holds them, and what contradicts them."""

from collections.abc import Iterable

from django.utils.translation import gettext as _

from logbook.models import Entry, TubeMove, TubePlace
from logbook.tube_stays import Conflict, Move, first_conflict
from station.models import Socket, Station, Tube


class TubeConflict(Exception):
    """The moves cannot have been like this; ``sentence`` says why and what to do."""

    def __init__(self, conflict: Conflict) -> None:
        self.sentence = conflict_sentence(conflict)
        super().__init__(self.sentence)


def moves_of(station: Station) -> list[Move]:
    """Every move that stands."""
    rows = TubeMove.objects.filter(station=station, entry__ended_by__isnull=True)
    columns = ("tube_id", "from_socket_id", "to_socket_id", "entry__observed_at", "entry__no")
    return [Move(*row) for row in rows.values_list(*columns)]


def places_of(station: Station) -> dict[int, str]:
    """Where each tube that stands in no socket was brought last; one never moved is not named."""
    rows = TubeMove.objects.filter(station=station, entry__ended_by__isnull=True)
    ordered = rows.order_by("entry__observed_at", "entry__no")
    return dict(ordered.values_list("tube_id", "place"))


def refuse_conflict(station: Station) -> None:
    """Raise TubeConflict if the moves that stand contradict each other."""
    conflict = first_conflict(moves_of(station))
    if conflict:
        raise TubeConflict(conflict)


def written_together(entry: Entry) -> Iterable[Entry]:
    """The entries of the action that moved several tubes at once, this one among them."""
    return (
        Entry.objects.current()
        .filter(station=entry.station, kind=entry.kind, by=entry.by, entered_at=entry.entered_at)
        .order_by("no")
    )


def conflict_sentence(conflict: Conflict) -> str:
    move = conflict.move
    facts = {
        "tube": Tube.objects.get(pk=move.tube).serial,
        "at": f"{move.at:%Y-%m-%d %H:%M} UTC",
        "no": move.no,
        "from": _("no socket") if move.from_socket is None else socket_of(move.from_socket),
    }
    if not conflict.is_taken:
        found = conflict.found
        stands = _("in %(socket)s") % {"socket": socket_of(found)} if found else _("in no socket")
        return _(
            "At %(at)s (entry %(no)s) tube %(tube)s cannot leave %(from)s: by the log it stands "
            "%(found)s then. Look at its moves: write another time, or strike the wrong one first."
        ) % {**facts, "found": stands}
    other = Tube.objects.get(pk=conflict.found or move.tube)
    return _(
        "At %(at)s (entry %(no)s) tube %(tube)s cannot stand in %(to)s: tube %(other)s stands "
        "there. Write first where that one went, or write another time."
    ) % {**facts, "to": socket_of(move.to_socket), "other": other}


def socket_of(socket_id: int | None) -> Socket:
    return Socket.objects.select_related("stage__transmitter").get(pk=socket_id)


def place_words(place: str) -> str:
    return str(TubePlace(place or TubePlace.SHELF).label)
