"""What the page of a history says of drifts."""

from django import template

from health.drift_words import channel_words, evidence_words, limit_words, slope_words

register = template.Library()

register.filter("drift_slope", slope_words)
register.filter("drift_limit", limit_words)
register.filter("drift_evidence", evidence_words)
register.filter("drift_channel", channel_words)
