"""Instants as the database's own numbers: years of them are read without making dates of them."""

from typing import Any

from django.db.models import FloatField, Func

# The epoch of 1970 is Julian day 2440587.5; rounded, because a day number holds no whole seconds.
FROM_JULIAN = "ROUND((julianday(%(expressions)s) - 2440587.5) * 86400)"


class SecondsOf(Func):
    """Seconds since 1970 UTC of an instant in whole seconds."""

    output_field = FloatField()
    arity = 1

    def as_sqlite(self, *args: Any, **context: Any) -> Any:
        return self.as_sql(*args, template=FROM_JULIAN, **context)

    def as_postgresql(self, *args: Any, **context: Any) -> Any:
        template = "EXTRACT(EPOCH FROM %(expressions)s)::float8"
        return self.as_sql(*args, template=template, **context)
