"""Changes of state get their entry's transmitter and instant, by which they are found."""

from typing import Any

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import OuterRef, Subquery


def fill(apps: Any, schema_editor: Any) -> None:
    entries = apps.get_model("logbook", "Entry").objects.filter(pk=OuterRef("pk"))
    apps.get_model("logbook", "StateChange").objects.update(
        transmitter=Subquery(entries.values("transmitter")[:1]),
        observed_at=Subquery(entries.values("observed_at")[:1]),
    )


class Migration(migrations.Migration):
    dependencies = [
        ("logbook", "0011_log_complete"),
        ("station", "0004_tolerance_and_retention"),
    ]

    operations = [
        migrations.AddField(
            model_name="statechange",
            name="transmitter",
            field=models.ForeignKey(
                db_index=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="station.transmitter",
            ),
        ),
        migrations.AddField(
            model_name="statechange",
            name="observed_at",
            field=models.DateTimeField(null=True, verbose_name="observed at"),
        ),
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
