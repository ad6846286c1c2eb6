"""Rows are ordered by their own columns: to order by a relation joins all that the related rows are ordered by."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("floor", "0003_hand_over"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="runevent",
            options={"ordering": ("load_id", "at", "id")},
        ),
    ]
