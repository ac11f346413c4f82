"""Sentences about entries, for the sheets and the entry's own page."""

from collections.abc import Callable, Iterable

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from logbook.checks import fact_words, falls
from logbook.models import (
    CheckMade,
    Correction,
    DutyTaken,
    Entry,
    FlagAction,
    FlagVerb,
    Handover,
    Hold,
    Interruption,
    Kind,
    MeterChange,
    Permit,
    PermitReturn,
    Release,
    Restoration,
    Signature,
    StateChange,
    TubeMove,
    WaveChange,
    WeekDecision,
)
from logbook.models.correction import Scope
from logbook.times import clock_text

DIGEST_SHOWN = 16


def entry_words(entry: Entry) -> str:
    """What an entry says in one sentence; '' for a round, which is a sheet."""
    words = WORDS.get(Kind(entry.kind))
    return words(entry) if words else ""


def change_words(change: StateChange) -> str:
    """'on air, full power, 6105 kHz, antenna A1, 200 kW by HT tap, retuned'."""
    parts = [
        change.get_state_display() if change.state else "",
        wave_words(change.frequency_khz),
        _("antenna %(code)s") % {"code": change.antenna} if change.antenna else "",
        _("coil set %(code)s") % {"code": change.coil_set} if change.coil_set else "",
        power_words(change.power_kw, change.get_set_by_display()),
        _("retuned") if change.is_retune else "",
    ]
    return _(", ").join(part for part in parts if part)


def wave_words(frequency_khz: float | None) -> str:
    return "" if frequency_khz is None else _("%(khz)g kHz") % {"khz": frequency_khz}


def power_words(power_kw: float | None, set_by: str) -> str:
    if power_kw is None:
        return _("power set by %(means)s") % {"means": set_by} if set_by else ""
    if not set_by:
        return _("%(kw)g kW") % {"kw": power_kw}
    return _("%(kw)g kW by %(means)s") % {"kw": power_kw, "means": set_by}


def correction_words(correction: Correction) -> str:
    """What a correction did to the entry it is about."""
    facts = {"no": correction.of.no}
    return {
        Scope.VALUES: _("values of entry %(no)s corrected"),
        Scope.ANEW: _("entry %(no)s struck and written anew"),
        Scope.VOID: _("entry %(no)s struck: it should not have been written"),
        Scope.CHOICE: _("the other round chosen for entry %(no)s"),
    }[Scope(correction.scope)] % facts


def flag_action_words(action: FlagAction) -> str:
    """'Acknowledged: V1 anode current 15.0 A at or above ...: meter re-read'."""
    parts = [verb_words(action), action.words, action.comment]
    return _(": ").join(part for part in parts if part)


def verb_words(action: FlagAction) -> str:
    """'shelved until 2026-03-02 14:00 UTC', 'meter out of service, order 4711'."""
    done = str(action.get_verb_display())
    if action.verb == FlagVerb.SHELVE:
        return _("%(done)s until %(end)s") % {"done": done, "end": shelf_end_words(action)}
    if action.order_number:
        return _("%(done)s, order %(number)s") % {"done": done, "number": action.order_number}
    return done


def shelf_end_words(action: FlagAction) -> str:
    if action.until is None:
        return _("the end of the shift")
    return _("%s UTC") % clock_text(action.until)


def tube_move_words(move: TubeMove) -> str:
    """'Tube F200-117 (F200) from T1 V1 to T1 V2: moved to find a fault'."""
    facts = {"tube": move.tube, "type": move.tube.tube_type, "to": move.to_socket}
    if move.from_socket and move.to_socket:
        went = _("Tube %(tube)s (%(type)s) from %(from)s to %(to)s")
    elif move.to_socket:
        went = _("Tube %(tube)s (%(type)s) put into %(to)s")
    elif move.from_socket:
        went = _("Tube %(tube)s (%(type)s) taken out of %(from)s, now %(place)s")
    else:
        went = _("Tube %(tube)s (%(type)s) now %(place)s")
    facts |= {"from": move.from_socket, "place": move.get_place_display()}
    parts = [went % facts, str(move.get_reason_display()), move.note]
    return _(": ").join(part for part in parts if part)


def meter_change_words(change: MeterChange) -> str:
    """'V1 anode current: another instrument, 0-50 A in steps of 0.5, class 1.5'."""
    unit, parts = change.meter.unit, []
    if change.old_last is not None:
        parts.append(_("the old one read %(value)g %(unit)s last"))
    if change.new_first is not None:
        parts.append(_("the new one %(first)g %(unit)s first"))
    parts.append(_("scale %(low)g to %(full)g %(unit)s in steps of %(step)g"))
    if change.class_percent is not None:
        parts.append(_("class %(class)g"))
    facts = {"value": change.old_last, "first": change.new_first, "unit": unit}
    facts |= {"low": change.scale_low, "full": change.full_scale, "step": change.step}
    facts |= {"class": change.class_percent}
    words = _("%(label)s: another instrument") % {"label": change.meter.label}
    return listed([words, *(part % facts for part in parts), *filter(None, [change.note])])


def wave_change_words(row: WaveChange) -> str:
    """'From 6105 kHz to 9690 kHz; HT off 06:51:10, full power 06:55:40; coupling dial +6 div'."""
    facts = {"from": wave_words(row.from_khz), "to": wave_words(row.to_khz)}
    if row.from_khz is None:
        begin = _("Wave set to %(to)s") % facts
    else:
        begin = _("Wave changed from %(from)s to %(to)s") % facts
    times = [
        _("%(what)s %(time)s UTC") % {"what": what, "time": f"{at:%H:%M:%S}"}
        for what, at in ((_("HT off"), row.ht_off_at), (_("full power"), row.full_power_at))
        if at
    ]
    read = [
        _("%(what)s: entry %(no)s") % {"what": what, "no": one.no}
        for what, one in ((_("as found"), row.as_found), (_("as left"), row.as_left))
        if one
    ]
    return "; ".join(filter(None, [begin, listed(times), row.deviations, *read, row.note]))


def fall_words(what: str, percent: float) -> str:
    facts = {"what": what, "percent": abs(percent)}
    if percent < 0:
        return _("%(what)s rose by %(percent)g %%") % facts
    return _("%(what)s fell by %(percent)g %%") % facts


def check_words(row: CheckMade) -> str:
    """'Tone test: Tone 400 Hz; Modulation depth 90 %; Result good; readings: entry 57'."""
    read = [
        _("%(what)s: entry %(no)s") % {"what": what, "no": one.no}
        for what, one in ((_("before"), row.before), (_("after"), row.after))
        if one
    ]
    fell = [fall_words(what, percent) for what, percent in falls(row.facts).items()]
    said = "; ".join(filter(None, [*fact_words(row.topic, row.facts), *fell, *read, row.note]))
    return f"{row.get_topic_display().capitalize()}: {said}"


def interruption_words(row: Interruption) -> str:
    """'Interrupted: HT supply (own equipment or people); first indicator: overcurrent V1'."""
    facts = {"cause": row.get_cause_display(), "source": row.get_loss_source_display()}
    if row.power_kw is None:
        begin = _("Interrupted: %(cause)s (%(source)s)") % facts
    else:
        facts["kw"] = row.power_kw
        begin = _("Reduced to %(kw)g kW: %(cause)s (%(source)s)") % facts
    parts = [begin, row.equipment]
    if row.first_indicator:
        parts.append(_("first indicator: %s") % row.first_indicator)
    parts.append(row.indicators)
    if row.recycles:
        words = ngettext("%(n)s recycle", "%(n)s recycles", row.recycles)
        parts.append(words % {"n": row.recycles})
    if row.is_locked_out:
        parts.append(_("locked out"))
    if row.agreed_end:
        parts.append(_("planned, agreed to end at %s UTC") % f"{row.agreed_end:%Y-%m-%d %H:%M}")
    if row.part_of:
        parts.append(_("part of the event of entry %s") % row.part_of.no)
    return "; ".join(part for part in [*parts, row.note] if part)


def restoration_words(row: Restoration) -> str:
    parts = [_("Interruption of entry %s is over") % row.of.no, row.found, row.mode, row.mechanism]
    if row.repair_min is not None:
        parts.append(_("active repair %s min") % row.repair_min)
    return "; ".join(part for part in parts if part)


def permit_words(row: Permit) -> str:
    """'Permit 12 to R. Ekstam, authorised by S. Falkner, 2 earth sticks out: hose changed'."""
    facts = {"number": row.number, "holder": row.holder, "by": row.authorised_by}
    facts |= {"earths": row.earths, "work": row.work}
    said = _(
        "Permit %(number)s to %(holder)s, authorised by %(by)s, %(earths)s earth sticks out: "
        "%(work)s"
    )
    antenna = _("antenna %s and its mast") % row.antenna if row.antenna else ""
    beside = _("beside it: %s") % row.beside if row.beside else ""
    return "; ".join(filter(None, [said % facts, antenna, beside]))


def return_words(row: PermitReturn) -> str:
    facts = {"no": row.of.no, "earths": row.earths_back, "by": row.seen_by}
    said = _("Permit of entry %(no)s returned, %(earths)s earth sticks back, seen by %(by)s")
    return _(": ").join(part for part in (said % facts, row.note) if part)


def handover_words(row: Handover) -> str:
    if row.unstaffed_until is None:
        return row.notes or _("Handed over")
    until = f"{row.unstaffed_until:%Y-%m-%d %H:%M}"
    return _("Station left unstaffed until %(until)s UTC: %(notes)s") % {
        "until": until,
        "notes": row.notes,
    }


def duty_words(row: DutyTaken) -> str:
    begin = _("Duty taken by the hand-over of entry %s") % row.of.no if row.of else _("Duty taken")
    return "; ".join(part for part in (begin, row.qualification, row.note) if part)


def signature_words(row: Signature) -> str:
    """'Signed: own entries of a day sheet, 2026-03-02, up to entry 57, digest 0a1b...'."""
    facts = {"what": row.get_scope_display(), "day": row.day, "no": row.up_to_no}
    facts["digest"] = row.digest[:DIGEST_SHOWN]
    said = _("Signed: %(what)s, %(day)s, up to entry %(no)s, digest %(digest)s") % facts
    if row.left_open is None:
        return said
    count = len(row.still_open)
    words = ngettext("%(n)s item left open", "%(n)s items left open", count) % {"n": count}
    return "; ".join([said, words])


def hold_words(row: Hold) -> str:
    facts = {"since": row.since, "until": row.until, "why": row.reason}
    said = _("Days held, %(since)s to %(until)s: %(why)s") % facts
    return "; ".join(filter(None, [said, row.reference]))


def release_words(row: Release) -> str:
    facts = {"no": row.of.no, "by": row.reference}
    return _("Hold of entry %(no)s released by %(by)s") % facts


def decision_words(row: WeekDecision) -> str:
    """'Week of 2026-03-02, T1: HT voltage low: plan work, fan by Friday; again on 2026-03-16'."""
    facts = {"week": row.week, "words": row.words, "what": decided_words(row)}
    if row.entry.transmitter is None:
        return _("Week of %(week)s: %(words)s: %(what)s") % facts
    facts["code"] = row.entry.transmitter.code
    return _("Week of %(week)s, %(code)s: %(words)s: %(what)s") % facts


def decided_words(row: WeekDecision) -> str:
    """'plan work, fan by Friday; looked at again on 2026-03-16'."""
    said = listed(filter(None, [str(row.get_decision_display()), row.reason]))
    if row.look_again is None:
        return said
    return "; ".join([said, _("looked at again on %s") % row.look_again])


def listed(words: Iterable[str]) -> str:
    return _(", ").join(words)


def short_digest(digest: bytes) -> str:
    """The beginning of a digest: enough to find an entry that is not what was written."""
    return bytes(digest).hex()[:DIGEST_SHOWN]


WORDS: dict[Kind, Callable[[Entry], str]] = {
    Kind.STATE: lambda entry: change_words(entry.statechange),
    Kind.REMARK: lambda entry: entry.remark.text,
    Kind.FLAG: lambda entry: flag_action_words(entry.flagaction),
    Kind.CORRECTION: lambda entry: correction_words(entry.correction),
    Kind.TUBE: lambda entry: tube_move_words(entry.tubemove),
    Kind.METER: lambda entry: meter_change_words(entry.meterchange),
    Kind.WAVE: lambda entry: wave_change_words(entry.wavechange),
    Kind.CHECK: lambda entry: check_words(entry.checkmade),
    Kind.INTERRUPTION: lambda entry: interruption_words(entry.interruption),
    Kind.RESTORED: lambda entry: restoration_words(entry.restoration),
    Kind.PERMIT: lambda entry: permit_words(entry.permit),
    Kind.RETURNED: lambda entry: return_words(entry.permitreturn),
    Kind.HANDOVER: lambda entry: handover_words(entry.handover),
    Kind.DUTY: lambda entry: duty_words(entry.dutytaken),
    Kind.SIGNED: lambda entry: signature_words(entry.signature),
    Kind.HOLD: lambda entry: hold_words(entry.hold),
    Kind.RELEASED: lambda entry: release_words(entry.release),
    Kind.DECISION: lambda entry: decision_words(entry.weekdecision),
}
