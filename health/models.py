"""What the analysis stores; all of it can be computed anew from the log."""

from datetime import datetime

from django.db import models
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from health.statistics.summaries import Grain
from logbook.times import instant_of
from station.models import Meter, Priority, Station, StationOwned, Transmitter


class Judging(StationOwned):
    """The lock of a transmitter's judge, and how far it came.

    Its entries up to the number ``judged_no`` are judged; those after it are pending.
    ``rejudge_from`` is the earliest minute that a changed limit or instrument asks for again.
    What ended before ``summarised_until`` has its summaries; None: nothing has. The references
    are learned from what lies before ``learned_until``, the begin of a day.
    """

    transmitter = models.OneToOneField(Transmitter, models.CASCADE, related_name="judging")
    judged_no = models.PositiveIntegerField(default=0)
    rejudge_from = models.IntegerField(null=True)
    summarised_until = models.IntegerField(null=True)
    learned_until = models.IntegerField(null=True)

    class Meta:
        verbose_name = _("judging")


class Summary(models.Model):
    """A meter's day, week or month on one wave: the first minute of it is ``bucket``.

    Wave 0 is 'off air, or not known'. Without a number on the scale the three figures are None.
    """

    station = models.ForeignKey(Station, models.PROTECT, related_name="+", db_index=False)
    meter = models.ForeignKey(Meter, models.CASCADE, related_name="summaries", db_index=False)
    grain = models.CharField(max_length=5, choices=[(one.value, one.value) for one in Grain])
    bucket = models.IntegerField()
    frequency_khz = models.FloatField()
    n = models.PositiveIntegerField()
    low = models.FloatField(null=True)
    median = models.FloatField(null=True)
    high = models.FloatField(null=True)
    off_scale = models.PositiveIntegerField()

    class Meta:
        verbose_name = _("summary")
        constraints = [
            models.UniqueConstraint(
                fields=["station", "meter", "grain", "bucket", "frequency_khz"],
                name="summary_key",
            ),
        ]


class MeterReference(models.Model):
    """What a meter reads at one operating point, as learned from the weeks before.

    Wave and power 0, without antenna: a meter that heeds none of them. ``modulation`` '' is any.
    """

    transmitter = models.ForeignKey(Transmitter, models.CASCADE, related_name="references")
    meter = models.ForeignKey(Meter, models.CASCADE, related_name="references", db_index=False)
    frequency_khz = models.FloatField()
    antenna = models.CharField(max_length=12, blank=True)
    power_kw = models.FloatField()
    modulation = models.CharField(max_length=8, blank=True)
    centre = models.FloatField()
    between = models.FloatField()
    within = models.FloatField()
    runs = models.PositiveIntegerField()
    readings = models.PositiveIntegerField()

    class Meta:
        verbose_name = _("reference")
        constraints = [
            models.UniqueConstraint(
                fields=["meter", "frequency_khz", "antenna", "power_kw", "modulation"],
                name="reference_of_point",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.meter}: {self.centre:g}"


class EpisodeQuerySet(models.QuerySet["Episode"]):
    def standing(self) -> "EpisodeQuerySet":
        return self.filter(until_minute__isnull=True)

    def touching(self, since: int, until: int) -> "EpisodeQuerySet":
        """Episodes that stood at any minute of since <= minute < until."""
        still = models.Q(until_minute__isnull=True) | models.Q(until_minute__gt=since)
        return self.filter(still, since_minute__lt=until)


class Episode(StationOwned):
    """A flag: rule, meter and the entry that began it are its natural key."""

    transmitter = models.ForeignKey(Transmitter, models.CASCADE, related_name="episodes")
    meter = models.ForeignKey(Meter, models.CASCADE, related_name="episodes")
    rule = models.CharField(_("rule"), max_length=24)
    first_no = models.PositiveIntegerField(_("first entry"))
    since_minute = models.IntegerField()
    until_minute = models.IntegerField(null=True)
    priority = models.CharField(_("priority"), max_length=6, choices=Priority.choices)
    evidence = models.JSONField(default=dict)

    objects = EpisodeQuerySet.as_manager()

    class Meta:
        verbose_name = _("flag")
        ordering = ["since_minute", "meter", "rule"]
        constraints = [
            models.UniqueConstraint(
                fields=["station", "transmitter", "rule", "meter", "first_no"],
                name="episode_key",
            ),
        ]
        indexes = [
            models.Index(fields=["transmitter", "since_minute"], name="episode_by_instant"),
            models.Index(
                fields=["transmitter"],
                condition=models.Q(until_minute__isnull=True),
                name="episode_standing",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.meter} {self.rule}"

    def get_absolute_url(self) -> str:
        return reverse(
            "flag", args=[self.transmitter.code, self.meter.code, self.rule, self.first_no]
        )

    @property
    def since(self) -> datetime:
        return instant_of(self.since_minute)

    @property
    def until(self) -> datetime | None:
        return None if self.until_minute is None else instant_of(self.until_minute)
