"""An interruption begins and ends by an entry each; open means that the second is not there."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import Entry, EntryChild


class LossSource(models.TextChoices):
    """Whose loss it is: only the station's own and the mains count against a transmitter."""

    OWN = "own", _("own equipment or people")
    MAINS = "mains", _("mains")
    FEED = "feed", _("programme feed")


class LossCause(models.TextChoices):
    """Common practice, no source. 'Unknown' is permitted; what is found out later corrects it."""

    TUBE = "tube", _("tube")
    HT_SUPPLY = "ht_supply", _("HT supply")
    COOLING = "cooling", _("water or air")
    DRIVE = "drive", _("drive")
    MODULATOR = "modulator", _("modulator")
    TUNING = "tuning", _("tuning or coils")
    CONTROL = "control", _("control or interlock")
    FEEDER = "feeder", _("feeder or antenna")
    SWITCHING = "switching", _("antenna switching")
    WEATHER = "weather", _("lightning or weather")
    PERSON = "person", _("operation")
    WORK = "work", _("planned work")
    SUPPLY = "supply", _("supply from outside")
    OTHER = "other", _("other, see the note")
    UNKNOWN = "unknown", _("unknown")


class Interruption(EntryChild):
    """What is lost from the entry's instant on: all power, or down to ``power_kw``.

    ``part_of`` is the first entry of an event over several transmitters. ``agreed_end`` is that
    of planned work: what lies past it is not planned.
    """

    loss_source = models.CharField(_("whose"), max_length=5, choices=LossSource.choices)
    cause = models.CharField(_("cause"), max_length=10, choices=LossCause.choices)
    power_kw = models.FloatField(_("power that is left, kW"), null=True)
    agreed_end = models.DateTimeField(_("agreed end of planned work"), null=True)
    equipment = models.CharField(_("equipment"), max_length=80, blank=True)
    first_indicator = models.CharField(_("first indicator"), max_length=80, blank=True)
    indicators = models.CharField(_("all indicators, in order"), max_length=300, blank=True)
    recycles = models.PositiveSmallIntegerField(_("recycles"), default=0)
    is_locked_out = models.BooleanField(_("locked out"), default=False)
    note = models.CharField(_("note"), max_length=300, blank=True)
    part_of = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="parts")

    said = (
        *("loss_source", "cause", "power_kw", "agreed_end", "equipment", "first_indicator"),
        *("indicators", "recycles", "is_locked_out", "note", "part_of"),
    )

    class Meta:
        verbose_name = _("interruption")

    def __str__(self) -> str:
        return f"{self.entry}: {self.get_cause_display()}"


class Restoration(EntryChild):
    """The end of an interruption, with what was found and done (fields after ISO 14224, from
    memory): how it was seen, what failed, how long the repair itself took.
    """

    of = models.ForeignKey(Entry, models.PROTECT, related_name="restorations")
    found = models.CharField(_("what was found and done"), max_length=300, blank=True)
    mode = models.CharField(_("failure mode: how it showed"), max_length=80, blank=True)
    mechanism = models.CharField(_("failure mechanism"), max_length=80, blank=True)
    repair_min = models.PositiveIntegerField(_("active repair, minutes"), null=True)

    said = ("of", "found", "mode", "mechanism", "repair_min")

    class Meta:
        verbose_name = _("end of an interruption")

    def __str__(self) -> str:
        return f"{self.entry}"
