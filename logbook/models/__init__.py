"""What people wrote: the ledger of entries, one file a kind."""

from logbook.models.correction import Correction
from logbook.models.entry import Entry, Kind, LogRow, Source
from logbook.models.flag_action import FlagAction, FlagVerb
from logbook.models.remark import Remark
from logbook.models.round import Reading, ReadingCode, Round, RoundKind
from logbook.models.state import StateChange

__all__ = [
    "Correction",
    "Entry",
    "FlagAction",
    "FlagVerb",
    "Kind",
    "LogRow",
    "Reading",
    "ReadingCode",
    "Remark",
    "Round",
    "RoundKind",
    "Source",
    "StateChange",
]
