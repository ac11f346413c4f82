"""A small backup with every kind of entry: ``python -m tests.backups.make FILE``.

One is made with each release and kept in this folder, so that later ones prove they restore it.
"""

import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import django

import tests.environment  # noqa: F401  the settings read it

django.setup()

from django.db import connection  # noqa: E402

from logbook import port  # noqa: E402
from logbook.backup.writing import write_backup  # noqa: E402
from logbook.services.corrections import correct_values, void_entry  # noqa: E402
from logbook.services.flags import FlagDraft, record_flag_action  # noqa: E402
from logbook.services.meters import MeterDraft, record_meter_change  # noqa: E402
from logbook.services.remarks import record_remark  # noqa: E402
from logbook.services.tubes import TubeDraft, record_tube_moves  # noqa: E402
from station.models import Instrument, Person, Transmitter  # noqa: E402
from tests.make import (  # noqa: E402
    SLOT,
    make_limit,
    make_meter,
    make_round,
    make_sockets,
    make_state,
    make_station,
    make_transmitter,
    make_tube,
    typed_for,
)
from tests.people import make_person  # noqa: E402

HOUR = timedelta(hours=1)


def main() -> None:
    connection.creation.create_test_db(verbosity=0)
    try:
        with port.silent():
            write_log()
        write_backup(Path(sys.argv[1]), at=datetime.now(UTC))
    finally:
        connection.creation.destroy_test_db(connection.settings_dict["NAME"], verbosity=0)


def write_log() -> None:
    """A morning of one transmitter: every kind of entry, something struck, something corrected."""
    station = make_station()
    transmitter = make_transmitter(station=station)
    by = make_person("engineer", "engineer", station=station)
    meter = make_meter(transmitter)
    make_limit(meter)
    make_state(by, transmitter)
    rounds = [
        make_round(by, transmitter, {meter.code: text}, slot=SLOT + hour * HOUR)
        for hour, text in enumerate(["12.4", "15", "/", ">20", "x", "12.8?"])
    ]
    at = SLOT + 7 * HOUR
    again = {meter: typed_for(meter, "12.6")}
    correct_values(rounds[1], again, reason="misread", by=by, at=at)
    void_entry(rounds[2].entry, reason="wrong sheet", by=by, at=at)
    make_round(by, transmitter, {meter.code: "12.9"})
    facts = {"station": station, "transmitter": None, "observed_at": at}
    record_remark("A quiet morning.", **facts, by=by, at=at)
    action = FlagDraft("limit-high", meter, rounds[1].entry.no, "acknowledge", "15.0 A")
    record_flag_action(action, by=by, at=at)
    change_plant(by, transmitter, at)


def change_plant(by: Person, transmitter: Transmitter, at: datetime) -> None:
    """A tube goes into its socket, and another instrument behind a meter."""
    tube = make_tube(transmitter, "A-1")
    sockets = make_sockets(transmitter)
    move = TubeDraft(tube, None, sockets[0])
    record_tube_moves(by.station, [move], observed_at=SLOT, by=by, at=at)
    own = {"station": by.station, "meter": transmitter.meters.get(code="v1_anode_current")}
    instrument = Instrument(**own, valid_from=at, full_scale=50, step=0.5, scale_law="linear")
    change = MeterDraft(own["meter"], at, instrument, note="another range")
    record_meter_change(change, by=by, at=at)


if __name__ == "__main__":
    main()
