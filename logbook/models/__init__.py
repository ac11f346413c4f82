"""What people wrote: the ledger of entries, one file a kind."""

from logbook.models.check import CheckMade, Topic
from logbook.models.correction import Correction
from logbook.models.decision import Decided, WeekDecision
from logbook.models.entry import Entry, Kind, LogRow, Source
from logbook.models.flag_action import FlagAction, FlagVerb
from logbook.models.handover import DutyTaken, Handover
from logbook.models.hold import Hold, Release
from logbook.models.interruption import Interruption, LossCause, LossSource, Restoration
from logbook.models.meter_change import MeterChange
from logbook.models.permit import Permit, PermitReturn
from logbook.models.printing import Printing
from logbook.models.remark import Remark
from logbook.models.round import Reading, ReadingCode, Round, RoundKind
from logbook.models.signature import Signature, SignatureScope
from logbook.models.state import StateChange
from logbook.models.tube_move import RemovalReason, TubeMove, TubePlace
from logbook.models.wave_change import WaveChange

__all__ = [
    "CheckMade",
    "Correction",
    "Decided",
    "DutyTaken",
    "Entry",
    "FlagAction",
    "FlagVerb",
    "Handover",
    "Hold",
    "Interruption",
    "Kind",
    "LogRow",
    "LossCause",
    "LossSource",
    "MeterChange",
    "Permit",
    "PermitReturn",
    "Printing",
    "Reading",
    "ReadingCode",
    "Release",
    "Remark",
    "RemovalReason",
    "Restoration",
    "Round",
    "RoundKind",
    "Signature",
    "SignatureScope",
    "Source",
    "StateChange",
    "Topic",
    "TubeMove",
    "TubePlace",
    "WaveChange",
    "WeekDecision",
]
