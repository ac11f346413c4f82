"""Writing the moves of tubes: one action moves all that it touches, or nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from logbook.bodies import tube_body
from logbook.ledger import Body, Draft, append, payload_digest
from logbook.models import Entry, Kind, TubeMove
from logbook.models.correction import Scope
from logbook.services.corrections import end_entry, refuse_ended
from logbook.services.saving import one_save, saved_before, says_the_same
from logbook.tube_log import refuse_conflict, written_together
from station.models import Person, Socket, Station, Transmitter, Tube


@dataclass(frozen=True)
class TubeDraft:
    """One tube's part of an action; ``place`` where it goes into no socket."""

    tube: Tube
    from_socket: Socket | None
    to_socket: Socket | None
    place: str = ""
    reason: str = ""
    note: str = ""
    in_place_of: Entry | None = None

    @property
    def transmitter(self) -> Transmitter | None:
        """Whose sheet tells of it: where the tube goes, else where it came from."""
        socket = self.to_socket or self.from_socket
        return socket.stage.transmitter if socket else None

    def row(self) -> TubeMove:
        facts = {name: value for name, value in vars(self).items() if name != "in_place_of"}
        return TubeMove(station=self.tube.station, **facts)


def record_tube_moves(
    station: Station,
    drafts: Sequence[TubeDraft],
    *,
    observed_at: datetime,
    by: Person,
    at: datetime,
    client_key: str = "",
) -> list[TubeMove]:
    """Save the moves of one action; the same page sent twice gives the stored ones.

    Raises
    ------
    TubeConflict
        If a tube stood elsewhere or a socket was taken; nothing is written then.
    """
    payload = {
        "at": observed_at.isoformat(),
        "moves": [tube_body(draft.row()) for draft in drafts],
    }
    with one_save("tube move", station) as written:
        known = saved_before(station, by, client_key)
        if known and says_the_same(known, payload):
            return [entry.tubemove for entry in written_together(known)]
        keys = ["" if known else client_key, *[""] * (len(drafts) - 1)]
        rows = [
            write_move(draft, observed_at, by=by, at=at, key=key, payload=payload)
            for draft, key in zip(drafts, keys, strict=True)
        ]
        refuse_conflict(station)
        written.extend(row.entry for row in rows)
    return rows


def write_move(
    draft: TubeDraft,
    observed_at: datetime,
    *,
    by: Person,
    at: datetime,
    key: str = "",
    payload: Body | None = None,
) -> TubeMove:
    row = draft.row()
    row.entry = append(
        Draft(
            kind=Kind.TUBE,
            station=draft.tube.station,
            transmitter=draft.transmitter,
            observed_at=observed_at,
            entered_at=at,
            by=by,
            body=tube_body(row),
            client_key=key,
            sent=payload_digest(payload) if key and payload else None,
            in_place_of=draft.in_place_of,
        )
    )
    row.save(force_insert=True)
    return row


def write_moves_anew(
    of: TubeMove, *, observed_at: datetime, reason: str, by: Person, at: datetime
) -> list[TubeMove]:
    """End all moves of an action and write them anew at another time."""
    with one_save("tube move written anew", of.station) as written:
        refuse_ended(of.entry)
        rows = []
        for entry in list(written_together(of.entry)):
            correction = end_entry(entry, Scope.ANEW, reason, by=by, at=at)
            rows.append(write_move(draft_again(entry.tubemove), observed_at, by=by, at=at))
            written.extend([correction.entry, rows[-1].entry])
        refuse_conflict(of.station)
    return rows


def draft_again(move: TubeMove) -> TubeDraft:
    return TubeDraft(
        tube=move.tube,
        from_socket=move.from_socket,
        to_socket=move.to_socket,
        place=move.place,
        reason=move.reason,
        note=move.note,
        in_place_of=move.entry,
    )
