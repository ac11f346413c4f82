"""Sentences about entries, for the sheets and the entry's own page."""

from collections.abc import Iterable

from django.utils.translation import gettext as _

from logbook.models import Correction, FlagAction, StateChange
from logbook.models.correction import Scope

DIGEST_SHOWN = 16


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
    parts = [str(action.get_verb_display()), action.words, action.comment]
    return _(": ").join(part for part in parts if part)


def listed(words: Iterable[str]) -> str:
    return _(", ").join(words)


def short_digest(digest: bytes) -> str:
    """The beginning of a digest: enough to find an entry that is not what was written."""
    return bytes(digest).hex()[:DIGEST_SHOWN]
