"""A test, a measurement, a look round or an adjustment: its topic says which facts it holds."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.models.entry import Entry, EntryChild


class Topic(models.TextChoices):
    ADJUSTMENT = "adjustment", _("adjustment")
    LOAD_TEST = "load-test", _("test into load")
    TONE_TEST = "tone-test", _("tone test")
    FILAMENT_STEP = "filament-step", _("filament step test")
    FILAMENT_SETTING = "filament-setting", _("filament setting")
    FREQUENCY = "frequency", _("frequency check")
    WATER = "water", _("water sample")
    MAKE_UP = "make-up", _("make-up water")
    RESIN = "resin", _("resin change")
    MEASUREMENT = "measurement", _("performance measurement")
    WEATHER = "weather", _("weather")
    TOWER_LIGHTS = "tower-lights", _("tower lights")
    TOWER_REPAIR = "tower-repair", _("tower lights repaired")
    COIL_WORK = "coil-work", _("work on a coil set")
    ANTENNA_WORK = "antenna-work", _("work on an antenna")


WORKS = frozenset({Topic.COIL_WORK, Topic.ANTENNA_WORK})
"""After these the meters stand elsewhere on the waves concerned."""
OF_TUBE = frozenset({Topic.FILAMENT_STEP, Topic.FILAMENT_SETTING})
"""These belong to the tube that stood in the socket then."""
OF_ALL = frozenset({Topic.WEATHER, Topic.ANTENNA_WORK})
"""These move the readings of every transmitter of the station."""


class CheckMade(EntryChild):
    """``facts`` are those of its topic in ``logbook.checks``: numbers in their unit, instants in
    UTC, words; what was not said is not there.

    ``before`` is the round as found, or the fault that a repair ends; ``after`` the round as left,
    or the readings of the test.
    """

    topic = models.CharField(_("topic"), max_length=16, choices=Topic.choices)
    facts = models.JSONField(_("facts"), default=dict)
    before = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="checked_after")
    after = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="checked_before")
    note = models.CharField(_("note"), max_length=300, blank=True)

    said = ("topic", "facts", "before", "after", "note")

    class Meta:
        verbose_name = _("test or measurement")
        indexes = [models.Index(fields=["station", "topic"], name="check_by_topic")]

    def __str__(self) -> str:
        return f"{self.entry}: {self.get_topic_display()}"
