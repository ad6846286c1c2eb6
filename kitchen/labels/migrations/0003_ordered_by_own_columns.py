"""Rows are ordered by their own columns: to order by a relation joins all that the related rows are ordered by."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("labels", "0002_append_only"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="shelfmove",
            options={"ordering": ("portion_id", "id")},
        ),
    ]
