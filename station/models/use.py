"""Whether anything outside the register refers to one of its rows."""

from django.db import models


def is_used(row: models.Model) -> bool:
    """Whether a log entry, or another app's row, names this row of the register."""
    return any(
        relation.related_model._base_manager.filter(**{relation.field.name: row}).exists()
        for relation in row._meta.related_objects
        if relation.related_model._meta.app_label != row._meta.app_label
    )
