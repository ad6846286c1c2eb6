"""Rows are ordered by their own columns: to order by a relation joins all that the related rows are ordered by."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0002_append_only"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="recordsignature",
            options={"ordering": ("load_id", "id")},
        ),
    ]
