"""Rows are ordered by their own columns: to order by a relation joins all that the related rows are ordered by."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("rota", "0002_open_shifts"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="attendance",
            options={"ordering": ("harvest_day_id", "user__display_name", "user_id", "starts_at")},
        ),
        migrations.AlterModelOptions(
            name="formerholder",
            options={"ordering": ("shift_id", "user_id")},
        ),
        migrations.AlterModelOptions(
            name="shift",
            options={"ordering": ("starts_at", "user__display_name", "user_id", "id")},
        ),
    ]
