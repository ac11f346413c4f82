"""How each status looks: a shape, a word and a tone, so that it never depends on colour alone.

Tones follow the sense of colours of IEC 60073 (from memory): red danger, yellow abnormal, green
normal, blue an action that is due; everything else is plain.
"""

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext_lazy as _

# Outlines in a square of 16; what ends in Z may be filled.
SHAPES = {
    "tick": "M3 8.5l3.5 3.5L13 4.5",
    "up": "M8 3L14 13H2Z",
    "down": "M8 13L2 3h12Z",
    "up-barred": "M8 5L14 14H2ZM2 2h12",
    "down-barred": "M8 11L2 2h12ZM2 14h12",
    "empty-box": "M3 3h10v10H3Z",
    "hourglass": "M4 2h8L4 14h8Z",
    "dash": "M2 8h12",
    "floor": "M2 13h12M8 3v7M5 7l3 3 3-3",
    "question": "M5 6a3 3 0 1 1 4.5 2.6C8.3 9.3 8 9.8 8 11M8 13v1",
    "again": "M13 8a5 5 0 1 1-1.5-3.5M13 2v4H9",
    "cross": "M3 3l10 10M13 3L3 13",
    "clock": "M8 2a6 6 0 1 0 .01 0ZM8 5v3.5l2.5 1.5",
    "dots": "M3 8h.01M8 8h.01M13 8h.01",
    "two-boxes": "M2 2h8v8H2ZM6 13h7V6",
    "lock": "M3 7h10v7H3ZM5 7V5a3 3 0 0 1 6 0v2",
    "equals": "M3 6h10M3 11h10",
    "circle": "M8 2a6 6 0 1 0 .01 0Z",
    "flag": "M4 15V2h9l-2 3.5L13 9H4",
    "hand": "M3 9h10M9 4l4 5-4 4",
    "flag-low": "M4 2v13M4 15h9l-2-3 2-3H4",
    "latch": "M3 3h10v10H3ZM6 8h4",
    "shelf": "M2 13h12M4 13V6h8v7",
    "barred": "M8 2a6 6 0 1 0 .01 0ZM4 12L12 4",
    "kept-in": "M8 2a6 6 0 1 0 .01 0ZM5 8h6",
}


@dataclass(frozen=True)
class Look:
    """How one status is drawn."""

    shape: str
    word: Any
    tone: str = "plain"
    is_filled: bool = False

    @property
    def path(self) -> str:
        return SHAPES[self.shape]


LOOKS = {
    "consistent": Look("question", _("consistent with"), "abnormal"),
    "normal": Look("tick", _("normal"), "normal"),
    "warning-low": Look("down", _("low, warning"), "abnormal"),
    "warning-high": Look("up", _("high, warning"), "abnormal"),
    "alarm-low": Look("down-barred", _("low, alarm"), "danger", is_filled=True),
    "alarm-high": Look("up-barred", _("high, alarm"), "danger", is_filled=True),
    "bottom-of-scale": Look("floor", _("bottom of scale")),
    "missing": Look("empty-box", _("missing"), "abnormal"),
    "not-running": Look("dash", _("not running")),
    "meter-faulty": Look("cross", _("meter faulty"), "abnormal"),
    "not-accessible": Look("lock", _("not accessible")),
    "not-read": Look("empty-box", _("not read")),
    "to-re-read": Look("again", _("to be re-read"), "action"),
    "doubtful": Look("question", _("doubtful"), "action"),
    "confirmed": Look("equals", _("confirmed")),
    "struck": Look("cross", _("struck")),
    "late": Look("clock", _("late"), "abnormal"),
    "pending": Look("dots", _("not judged yet")),
    "duplicate": Look("two-boxes", _("duplicate, counts nowhere"), "action"),
    "no-reference": Look("circle", _("no reference yet")),
    "estimated": Look("question", _("estimated")),
    "open": Look("flag", _("open"), "danger", is_filled=True),
    "acknowledged": Look("flag", _("acknowledged"), "abnormal"),
    "returned-open": Look("flag-low", _("returned, not acknowledged"), "abnormal"),
    "returned": Look("hand", _("returned")),
    "latched": Look("latch", _("latched, to be inspected and reset"), "action"),
    "out-of-service": Look("barred", _("out of service")),
    "suppressed": Look("kept-in", _("suppressed by state")),
    "tripped": Look("cross", _("trip"), "danger"),
    "stale": Look("clock", _("stands for more than a day"), "abnormal"),
    "chattering": Look("again", _("chattering"), "abnormal"),
    "drifting": Look("up", _("drifting"), "abnormal"),
    "recomputed": Look("again", _("recomputed: no longer raised")),
    "shelved": Look("shelf", _("shelved")),
    "explained": Look("tick", _("explained")),
    "permit-out": Look("lock", _("permit out"), "abnormal"),
    "permit-and-ht": Look("lock", _("HT on with a permit out"), "danger", is_filled=True),
    "signed": Look("tick", _("signed"), "normal"),
    "not-signed": Look("empty-box", _("not signed")),
    "after-signature": Look("again", _("after signature"), "abnormal"),
    "after-review": Look("again", _("after review"), "abnormal"),
    "undecided": Look("hand", _("to be decided"), "action"),
    "back": Look("again", _("to be decided again"), "action"),
    "changed": Look("circle", _("changed")),
    "carried": Look("hourglass", _("carried")),
    "decided": Look("tick", _("decided")),
    "gone": Look("dash", _("gone")),
    "closed": Look("tick", _("closed")),
    "due": Look("clock", _("due"), "action"),
    "overdue": Look("clock", _("overdue"), "abnormal"),
    "expired": Look("cross", _("expired"), "danger"),
    "expiring": Look("clock", _("expires soon"), "abnormal"),
    "order-now": Look("hand", _("order one now"), "action"),
    "ready": Look("tick", _("ready"), "normal"),
    "not-ready": Look("cross", _("not ready"), "abnormal"),
    "emission-enough": Look("tick", _("enough"), "normal"),
    "emission-falling": Look("down", _("falling"), "abnormal"),
    "emission-weak": Look("down-barred", _("weak"), "abnormal", is_filled=True),
    "emission-untold": Look("circle", _("cannot be told")),
}


def look_of(level: str) -> Look:
    """The look of a level; a level without one shows its own name, plainly."""
    return LOOKS.get(level) or Look("circle", level.replace("-", " "))
