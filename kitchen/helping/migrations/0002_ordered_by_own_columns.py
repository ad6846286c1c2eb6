"""Rows are ordered by their own columns: to order by a relation joins all that the related rows are ordered by."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("helping", "0001_initial"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="busycalendar",
            options={"ordering": ("membership_id", "kind")},
        ),
        migrations.AlterModelOptions(
            name="stationwish",
            options={"ordering": ("membership_id", "station")},
        ),
    ]
