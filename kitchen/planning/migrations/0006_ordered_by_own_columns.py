"""Rows are ordered by their own columns: to order by a relation joins all that the related rows are ordered by."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("planning", "0005_booked_time"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="harvestday",
            options={"ordering": ("-date", "kitchen_id")},
        ),
        migrations.AlterModelOptions(
            name="leftout",
            options={
                "ordering": ("harvest_day_id", "batch__arrives_at", "batch_id"),
                "verbose_name_plural": "left out",
            },
        ),
        migrations.AlterModelOptions(
            name="load",
            options={"ordering": ("-harvest_day__date", "canner__code", "number", "id")},
        ),
        migrations.AlterModelOptions(
            name="loadphase",
            options={"ordering": ("load_id", "starts_at", "id")},
        ),
        migrations.AlterModelOptions(
            name="loadportion",
            options={"ordering": ("load_id", "id")},
        ),
    ]
