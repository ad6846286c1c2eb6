"""Rows are ordered by their own columns: to order by a relation joins all that the related rows are ordered by."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("seals", "0002_append_only"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="holddecision",
            options={"ordering": ("load_id", "id")},
        ),
        migrations.AlterModelOptions(
            name="sealcheck",
            options={"ordering": ("portion_id", "id")},
        ),
    ]
