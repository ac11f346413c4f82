"""The ledger: every fact that someone wrote is one numbered, chained entry."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from station.models import Station, Transmitter


class Kind(models.TextChoices):
    ROUND = "round", _("round of readings")
    STATE = "state", _("change of state")
    CORRECTION = "correction", _("correction")
    REMARK = "remark", _("remark")
    FLAG = "flag", _("action about a flag")
    TUBE = "tube", _("move of a tube")
    METER = "meter", _("change of an instrument")
    WAVE = "wave", _("change of wave")
    CHECK = "check", _("test or measurement")
    INTERRUPTION = "interruption", _("interruption")
    RESTORED = "restored", _("end of an interruption")
    PERMIT = "permit", _("permit given out")
    RETURNED = "returned", _("permit returned")
    HANDOVER = "handover", _("hand-over")
    DUTY = "duty", _("duty taken")
    SIGNED = "signed", _("signature")
    HOLD = "hold", _("days held")
    RELEASED = "released", _("release of a hold")
    DECISION = "decision", _("decision of the week")


class Source(models.TextChoices):
    PERSON = "person", _("typed by a person")
    IMPORT = "import", _("imported")
    PAPER = "paper", _("typed from paper")
    LOGGER = "logger", _("read by an instrument link")


class LogRow(models.Model):
    """A row of the log: written once; the database refuses to change or delete it.

    ``once_filled`` names the only column that may go, once, from empty to filled.
    """

    once_filled: str = ""

    class Meta:
        abstract = True


class EntryQuerySet(models.QuerySet["Entry"]):
    def current(self) -> "EntryQuerySet":
        return self.filter(ended_by__isnull=True)


class Entry(LogRow):
    """One entry; ``no`` is gapless per station and orders the log whatever the clock does."""

    once_filled = "ended_by_id"

    station = models.ForeignKey(Station, models.PROTECT, related_name="entries", db_index=False)
    no = models.PositiveIntegerField(_("number"))
    transmitter = models.ForeignKey(
        Transmitter, models.PROTECT, null=True, related_name="entries", db_index=False
    )
    kind = models.CharField(_("kind"), max_length=12, choices=Kind.choices)
    observed_at = models.DateTimeField(_("observed at"))
    entered_at = models.DateTimeField(_("entered at"))
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, related_name="entries", db_index=False
    )
    name_as_written = models.CharField(_("by"), max_length=160)
    source = models.CharField(max_length=8, choices=Source.choices, default=Source.PERSON)
    client_key = models.CharField(max_length=40, blank=True)
    payload_digest = models.BinaryField(max_length=32, null=True)
    in_place_of = models.ForeignKey(
        "self", models.PROTECT, null=True, related_name="written_anew", db_index=False
    )
    digest = models.BinaryField(max_length=32)
    ended_by = models.ForeignKey(
        "self", models.PROTECT, null=True, related_name="ended", db_index=False
    )

    objects = EntryQuerySet.as_manager()

    class Meta:
        verbose_name = _("entry")
        constraints = [
            models.UniqueConstraint(fields=["station", "no"], name="entry_number"),
            models.UniqueConstraint(
                fields=["station", "by", "client_key"],
                condition=~Q(client_key=""),
                name="entry_saved_once",
            ),
        ]
        indexes = [
            models.Index(fields=["transmitter", "kind", "observed_at"], name="entry_by_instant"),
            models.Index(fields=["transmitter", "no"], name="entry_by_number"),
        ]

    def __str__(self) -> str:
        return f"{self.no} {self.kind}"


class EntryChild(LogRow):
    """The one-to-one row that holds what an entry of one kind says.

    ``said`` names the columns of a kind whose body is just its columns; those of ``said_later``
    came with a later release and are said only where they are filled, so that what was written
    before stays what it was.
    """

    said: tuple[str, ...] = ()
    said_later: tuple[str, ...] = ()

    entry = models.OneToOneField(Entry, models.PROTECT, primary_key=True, related_name="%(class)s")
    station = models.ForeignKey(Station, models.PROTECT, related_name="+", db_index=False)

    class Meta:
        abstract = True
