"""A round of readings of one transmitter, and its readings."""

from collections.abc import Sequence
from datetime import UTC, datetime

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import Entry, EntryChild, LogRow
from station.models import Meter, Station
from station.states import Modulation


class RoundKind(models.TextChoices):
    ROUTINE = "routine", _("routine")
    AS_FOUND = "as_found", _("as found")
    AS_LEFT = "as_left", _("as left")
    EXTRA = "extra", _("extra")


class ReadingCode(models.TextChoices):
    """Why there is no number; '' is a number. A cell left blank has no reading at all."""

    NOT_RUNNING = "R", _("not running")
    FAULTY = "F", _("meter faulty")
    NOT_ACCESSIBLE = "A", _("not accessible")
    NOT_READ = "N", _("not read")
    TO_RE_READ = "T", _("to be re-read")


class Mark(models.TextChoices):
    DOUBTFUL = "?", _("doubtful")
    CONFIRMED = "=", _("confirmed")


class Bound(models.TextChoices):
    """Off scale: the true value lies above or below the number."""

    ABOVE = ">", _("above")
    BELOW = "<", _("below")


class Round(EntryChild):
    """One set of readings; ``duplicate_of`` is the round that counts for the same slot.

    ``paper_sheet`` is the number of the sheet that it was typed from, when it was: the entry's own
    two instants say then when it was read and when it was typed.
    """

    slot = models.DateTimeField(_("slot"))
    kind = models.CharField(
        _("kind"), max_length=8, choices=RoundKind.choices, default=RoundKind.ROUTINE
    )
    modulation = models.CharField(_("modulation"), max_length=8, choices=Modulation.choices)
    paper_sheet = models.CharField(_("paper sheet"), max_length=20, blank=True)
    duplicate_of = models.ForeignKey(
        "self", models.PROTECT, null=True, related_name="duplicates", db_index=False
    )

    class Meta:
        verbose_name = _("round")
        indexes = [models.Index(fields=["station", "slot"], name="round_by_slot")]

    def __str__(self) -> str:
        return f"{self.entry} {self.slot:%Y-%m-%d %H:%M}"


class ReadingQuerySet(models.QuerySet["Reading"]):
    def current(self) -> "ReadingQuerySet":
        return self.filter(ended_by__isnull=True)

    def of_rounds(self, station_id: int, rounds: Sequence[int]) -> "ReadingQuerySet":
        """What stands of rounds, by their keys, and what was struck. No index holds both: named
        apart, each is found by its own; else every reading is looked at."""
        stands = Q(station=station_id, ended_by__isnull=True)
        struck = Q(ended_by__isnull=False)
        return self.filter(Q(stands, round__in=rounds) | Q(struck, round__in=rounds))


class Reading(LogRow):
    """One meter read once. ``minute`` is whole minutes since 1970 UTC of its panel group.

    ``brought_by`` is the correction that brought it, None for the round itself. A duplicate
    round's readings are born ended by their own round's entry, so they count nowhere.
    """

    once_filled = "ended_by_id"

    station = models.ForeignKey(Station, models.PROTECT, related_name="+", db_index=False)
    meter = models.ForeignKey(Meter, models.PROTECT, related_name="readings", db_index=False)
    round = models.ForeignKey(Round, models.PROTECT, related_name="readings", db_index=False)
    minute = models.IntegerField()
    value = models.FloatField(null=True)
    code = models.CharField(max_length=1, blank=True, choices=ReadingCode.choices)
    bound = models.CharField(max_length=1, blank=True, choices=Bound.choices)
    mark = models.CharField(max_length=1, blank=True, choices=Mark.choices)
    text = models.CharField(max_length=40, blank=True)
    brought_by = models.ForeignKey(
        Entry, models.PROTECT, null=True, related_name="brought", db_index=False
    )
    ended_by = models.ForeignKey(
        Entry, models.PROTECT, null=True, related_name="ended_readings", db_index=False
    )

    objects = ReadingQuerySet.as_manager()

    class Meta:
        verbose_name = _("reading")
        constraints = [
            models.UniqueConstraint(
                fields=["station", "round", "meter"],
                condition=Q(ended_by__isnull=True),
                name="reading_current",
            ),
        ]
        indexes = [
            models.Index(
                fields=["meter", "minute", "value"],
                condition=Q(ended_by__isnull=True),
                name="reading_by_meter",
            ),
            # Few rows: off-scale readings are no numbers and must be found among the others.
            models.Index(
                fields=["meter", "minute"],
                condition=Q(ended_by__isnull=True, bound__gt=""),
                name="reading_off_scale",
            ),
            models.Index(
                fields=["station", "minute"],
                condition=Q(ended_by__isnull=True, code=ReadingCode.TO_RE_READ),
                name="reading_to_re_read",
            ),
            models.Index(
                fields=["round"],
                condition=Q(ended_by__isnull=False),
                name="reading_ended",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.meter_id} {self.value}"

    @property
    def observed_at(self) -> datetime:
        return datetime.fromtimestamp(self.minute * 60, UTC)
