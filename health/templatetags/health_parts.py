"""What the boards' templates format; they decide nothing."""

from collections.abc import Sequence
from datetime import date

from django import template

from health.boards.week import WeekRow
from health.boards.week_panels import Panel
from health.charts import DayFigures, chart_id, daily
from logbook.models import FlagAction
from logbook.words import verb_words

register = template.Library()


@register.filter
def chart_of(row: WeekRow, panel: Panel) -> str:
    """The id under which the page's data hold the panel's chart."""
    return chart_id(row, panel)


@register.filter
def by_day(panel: Panel, days: Sequence[date]) -> list[tuple[str, list[DayFigures]]]:
    return daily(panel, days)


@register.filter
def percent(share: float) -> str:
    return f"{100 * share:.3f} %"


@register.filter
def duration(seconds: float) -> str:
    """'17:30:05', hours that may pass a day."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes // 60}:{minutes % 60:02d}:{rest:02d}"


@register.filter
def done(action: FlagAction) -> str:
    """'shelved until 2026-03-02 14:00 UTC'."""
    return verb_words(action)
