"""A log with an entry of every kind, some struck and some corrected: for proofs and backups."""

from dataclasses import replace
from datetime import timedelta

from logbook.models import SignatureScope
from logbook.reading_text import read_typed
from logbook.services.checks import record_check, record_repair
from logbook.services.corrections import correct_values, void_entry
from logbook.services.decisions import record_decisions
from logbook.services.duty import record_duty, record_handover
from logbook.services.flags import FlagDraft, record_flag_action
from logbook.services.holds import record_release
from logbook.services.interruptions import record_restoration
from logbook.services.meters import MeterDraft, record_meter_change
from logbook.services.permits import record_return
from logbook.services.remarks import record_remark
from logbook.services.signatures import record_signature
from logbook.services.tubes import TubeDraft, record_tube_moves
from station.models import CoilSet, Instrument, Person, Station
from tests.make import (
    SLOT,
    make_antenna,
    make_hold,
    make_interruption,
    make_light_fault,
    make_meter,
    make_permit,
    make_round,
    make_sockets,
    make_state,
    make_transmitter,
    make_tube,
    typed_for,
)
from tests.people import signed_in

NOW = SLOT + timedelta(hours=3)
"""When it was written."""


def write_every_kind(shift: Person, engineer: Person, station: Station) -> None:
    t1 = make_transmitter(station=station)
    t2 = make_transmitter(station=station, code="T2")
    make_antenna(station, "A2")
    for code in ("1", "2"):
        CoilSet.objects.create(station=station, transmitter=t1, code=code)
    current, power = make_meter(t1), make_meter(t1, "forward_power", unit="kW", full_scale=250.0)
    by = {"by": shift, "at": NOW}
    seen = {"observed_at": NOW, **by}
    make_state(shift, t1)
    first = make_round(shift, t1, {current.code: "12.4", power.code: ">200"}, client_key="k-1")
    make_round(shift, t1, {current.code: "14.2"})  # a duplicate
    typed = {current: typed_for(current, "12.6"), power: read_typed("/", None)}
    correct_values(first, typed, reason="misread", **by)
    struck = make_round(shift, t1, {current.code: "1"}, slot=SLOT + timedelta(hours=1))
    void_entry(struck.entry, reason="wrong set", **by)
    record_remark("quiet", station=station, transmitter=t1, about=first.entry, **seen)
    flag = FlagDraft("limit-high", current, first.entry.no, "acknowledge", "high", "seen")
    record_flag_action(flag, **by)
    shelf = {"until": NOW + timedelta(hours=4), "comment": "compared at noon"}
    record_flag_action(replace(flag, verb="shelve", **shelf), **by)
    away = {"order_number": "4711", "comment": "shunt"}
    record_flag_action(replace(flag, verb="out", **away), **by)
    tubes = [make_tube(t1, "A-1"), make_tube(t1, "A-2")]
    places = zip(tubes, make_sockets(t1), strict=True)
    moves = [TubeDraft(tube, None, socket) for tube, socket in places]
    record_tube_moves(station, moves, observed_at=NOW, **by)
    new = Instrument(
        station=station, meter=current, valid_from=NOW, full_scale=50.0, step=0.5, class_percent=1.5
    )
    record_meter_change(MeterDraft(current, NOW, new, old_last=12.0, new_first=12.5), **by)
    loss = make_interruption(shift, t1, power_kw=80.0, agreed_end=NOW, recycles=2)
    make_interruption(shift, t1, t2)
    ends = {"found": "arc", "mode": "trip", "mechanism": "arc", "repair_min": 4}
    record_restoration(loss.interruption, NOW, ends, **by)
    permit = make_permit(shift, t1)
    back = {"earths_back": 1, "seen_by": "J. Amsel", "note": ""}
    record_return(permit.permit, back, **seen)
    handover = record_handover(station, "as it stood", "oil", **by).handover
    record_duty(station, handover, qualification="Q-7", note="", by=engineer, at=NOW)
    release = make_hold(engineer)
    record_release(release.hold, "letter", by=engineer, at=NOW)
    columns = {"topic": "make-up", "facts": {"litres": 40.0, "source": "still"}}
    record_check(station, t1, {**columns, "before": first.entry}, **seen)
    fault = make_light_fault(shift)
    record_repair(fault.checkmade, {"done": "lamp"}, "", **seen)
    wave = {"frequency": "6105", "antenna": "A1", "coil_set": "1", "power": "200/tap"}
    times = {"day": "2026-03-02", "ht_off": "08:50", "rf_on": "08:55", "full_power": "08:56"}
    signed_in(shift).post("/log/T1/wave", {**wave, **times, "client_key": "k-2"})
    decided = {"week": SLOT.date(), "key": f"flag/T1/{current.code}/limit-high/1", "words": "high"}
    decided |= {"decision": "plan-work", "reason": "fan", "look_again": NOW.date(), "measure": 3.0}
    record_decisions([(t1, decided)], by=engineer, at=NOW)
    week = {"key": "pending", "code": "", "words": "2 entries", "since": "2026-03-02"}
    left = [{**week, "state": "open"}]
    monday = {"transmitter": None, "by": engineer, "at": NOW, "left_open": left}
    record_signature(station, SignatureScope.WEEK, SLOT.date(), **monday)
    record_signature(station, SignatureScope.OWN, SLOT.date(), transmitter=t1, **by)
    make_state(shift, t1, state="standby", observed_at=NOW, at=NOW)
