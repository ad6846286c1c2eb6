"""Rows are ordered by their own columns: to order by a relation joins all that the related rows are ordered by."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("equipment", "0003_cannertime_held_until"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="burner",
            options={"ordering": ("kitchen_id", "name")},
        ),
        migrations.AlterModelOptions(
            name="canner",
            options={"ordering": ("kitchen_id", "code")},
        ),
        migrations.AlterModelOptions(
            name="cannertime",
            options={"ordering": ("starts_at", "canner__code", "canner_id")},
        ),
        migrations.AlterModelOptions(
            name="coolingtable",
            options={"ordering": ("kitchen_id", "name")},
        ),
        migrations.AlterModelOptions(
            name="gaugecheck",
            options={"ordering": ("canner_id", "-checked_on", "-id")},
        ),
        migrations.AlterModelOptions(
            name="kettle",
            options={"ordering": ("kitchen_id", "name")},
        ),
    ]
