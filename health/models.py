"""What the analysis stores; all of it can be computed anew from the log."""

from datetime import datetime

from django.db import models
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from health.rules.limits import RULES, SUPPRESSED
from health.statistics.drift import is_told
from health.statistics.summaries import Grain
from logbook.times import instant_of
from station.models import Meter, Priority, Station, StationOwned, Transmitter

WATER_LEVEL, WATER_FLOW = "water_level", "water_flow"
NOTE = "note"
PRIORITIES = [*Priority.choices, (NOTE, _("note"))]
"""A note is what does not say what to do: ISA-18.2 and EEMUA 191 (from memory)."""


class Judging(StationOwned):
    """The lock of a transmitter's judge, and how far it came.

    Its entries up to the number ``judged_no`` are judged; those after it are pending.
    ``rejudge_from`` is the earliest minute that a changed limit or instrument asks for again.
    What ended before ``summarised_until`` has its summaries; None: nothing has. The days before
    ``learned_until``, the begin of a day, are in the judge's memory.
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


class OfChannel(models.Model):
    """A row of one channel of a transmitter, made at the end of a day (numbered from 1970 UTC)."""

    transmitter = models.ForeignKey(Transmitter, models.CASCADE, related_name="+", db_index=False)
    channel = models.CharField(max_length=60)
    day = models.IntegerField()

    class Meta:
        abstract = True


class ChannelBaseline(OfChannel):
    """What a channel read at one operating point when its baseline began; ``day`` is the last of
    those that it is learned of. A later row of the same place takes its place."""

    place = models.CharField(max_length=60, blank=True)
    centre = models.FloatField()
    between = models.FloatField()
    within = models.FloatField()
    runs = models.PositiveIntegerField()
    readings = models.PositiveIntegerField()
    is_last = models.BooleanField()

    class Meta:
        verbose_name = _("baseline")
        indexes = [models.Index(fields=["transmitter", "place"], name="baseline_of_place")]

    def __str__(self) -> str:
        return f"{self.channel}: {self.centre:g}"


class LearningPoint(OfChannel):
    """A run's level in one day, of a place whose baseline is not learned for the last time."""

    place = models.CharField(max_length=60, blank=True)
    run = models.PositiveIntegerField()
    level = models.FloatField()
    readings = models.PositiveIntegerField()
    squares = models.FloatField()

    class Meta:
        verbose_name = _("learning point")
        indexes = [models.Index(fields=["transmitter", "day"], name="point_by_day")]


class ChannelDay(OfChannel):
    """One day of a channel in sigmas of its baselines: see ``health.rules.memory.Day``."""

    run = models.IntegerField()
    total = models.FloatField()
    squares = models.FloatField()
    count = models.FloatField()
    runs = models.FloatField()
    usual = models.FloatField(default=0.0)
    shift = models.FloatField()
    recent = models.FloatField()
    scatter = models.FloatField()
    reach = models.FloatField()
    far = models.FloatField()
    offset = models.FloatField(null=True)
    shift_total = models.FloatField(default=0.0)
    shift_squares = models.FloatField()
    shifts = models.FloatField()
    mean_total = models.FloatField(default=0.0)
    mean_squares = models.FloatField()
    means = models.FloatField()

    class Meta:
        verbose_name = _("day of a channel")
        indexes = [
            models.Index(fields=["transmitter", "channel", "day"], name="channel_by_day"),
            models.Index(fields=["transmitter", "day"], name="day_of_channels"),
        ]


class Drift(OfChannel):
    """How a channel drifts, in ``unit``, as it was known when ``day`` had ended; stored for the
    newest day alone.

    ``points`` of a ``grain`` from so many ``days``, 0 for 'not enough data': there is no slope
    then. ``p`` is how often chance alone gives such a trend. ``limit`` is the alarm on the side
    towards which it drifts, at full power on the air, None where there is none; ``days_low`` and
    ``days_high`` in how many days it is reached, None for 'no reliable date'. ``since`` is the day
    of the newest event that began it anew, None without one.
    """

    meter = models.ForeignKey(Meter, models.CASCADE, related_name="+", db_index=False)
    relation = models.CharField(max_length=24, blank=True)
    programme = models.CharField(max_length=8, blank=True)
    weather = models.CharField(max_length=4, blank=True)
    unit = models.CharField(max_length=8)
    days = models.PositiveIntegerField(default=0)
    points = models.PositiveIntegerField(default=0)
    grain = models.CharField(max_length=4, blank=True)
    p = models.FloatField(default=1)
    slope_per_1000h = models.FloatField(default=0)
    low = models.FloatField(default=0)
    high = models.FloatField(default=0)
    limit = models.FloatField(null=True)
    days_low = models.FloatField(null=True)
    days_high = models.FloatField(null=True)
    since = models.IntegerField(null=True)

    class Meta:
        verbose_name = _("drift")
        indexes = [models.Index(fields=["transmitter", "meter"], name="drift_of_meter")]

    def __str__(self) -> str:
        return f"{self.channel}: {self.slope_per_1000h:+g} {self.unit}"

    @property
    def is_known(self) -> bool:
        return self.points > 0

    @property
    def is_told(self) -> bool:
        """Whether the trend is told from none."""
        return is_told(self.slope_per_1000h, self.p)


class SymptomMatch(models.Model):
    """What the signs of a transmitter were consistent with at ``minute``, the newest round of a day
    on which a flag stood; ``day`` is numbered from 1970 UTC.

    ``ranked``: id, score and part, the likeliest first; 'no match' before the nearest where none
    fits. ``signs``: name, part and size of what stood out most.
    """

    transmitter = models.ForeignKey(Transmitter, models.CASCADE, related_name="+", db_index=False)
    day = models.IntegerField()
    minute = models.IntegerField()
    ranked = models.JSONField()
    signs = models.JSONField()

    class Meta:
        verbose_name = _("symptoms of a day")
        constraints = [
            models.UniqueConstraint(fields=["transmitter", "day"], name="symptoms_of_day")
        ]

    def __str__(self) -> str:
        return ", ".join(str(name) for name, _score, _part in self.ranked)


class EpisodeQuerySet(models.QuerySet["Episode"]):
    def standing(self) -> "EpisodeQuerySet":
        return self.filter(until_minute__isnull=True)

    def after(self, minute: int) -> "EpisodeQuerySet":
        """Episodes that stood at ``minute`` or later, in the order of their begin."""
        still = models.Q(until_minute__isnull=True) | models.Q(until_minute__gte=minute)
        return self.filter(still).order_by("first_no", "meter", "rule")

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
    priority = models.CharField(_("priority"), max_length=6, choices=PRIORITIES)
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
    def is_of_limit(self) -> bool:
        return self.rule in RULES.values()

    @property
    def is_vital(self) -> bool:
        """Low water: it comes before everything and is never set aside."""
        return self.rule == RULES["low"] and self.meter.quantity == WATER_LEVEL

    @property
    def is_latched(self) -> bool:
        """Its kind wants an inspection before it is forgotten: low water level, low flow."""
        is_water = self.meter.quantity in {WATER_LEVEL, WATER_FLOW}
        return self.rule == RULES["low"] and is_water and self.priority == Priority.HIGH

    @property
    def is_suppressed(self) -> bool:
        """A change of state ended it."""
        return SUPPRESSED in self.evidence

    @property
    def since(self) -> datetime:
        return instant_of(self.since_minute)

    @property
    def until(self) -> datetime | None:
        return None if self.until_minute is None else instant_of(self.until_minute)
