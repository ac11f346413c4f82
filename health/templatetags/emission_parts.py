"""What the pages of tubes say of emission and filament."""

from django import template

from health import emission_words as words

register = template.Library()

register.filter("emission_source", words.source_words)
register.filter("emission_evidence", words.evidence_words)
register.filter("emission_growth", words.growth_words)
register.filter("emission_blind", words.blind_words)
register.filter("emission_state", words.state_words)
register.filter("emission_next", words.next_words)
register.filter("emission_due", words.due_words)
register.filter("filament_advice", words.advice_words)
register.filter("heater_trend", words.heater_words)
register.filter("heater_step", words.heater_step_words)
register.filter("filament_life", words.life_words)
register.filter("warm_up", words.warm_up_words)


@register.filter
def emission_level(state: str) -> str:
    """The status under which a state of the emission is drawn."""
    return f"emission-{state}"
