"""Rows are ordered by their own columns: to order by a relation joins all that the related rows are ordered by."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("members", "0007_language_and_units"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="cannertraining",
            options={"ordering": ("membership_id", "-trained_on")},
        ),
        migrations.AlterModelOptions(
            name="confirmedprocess",
            options={"ordering": ("kitchen_id", "process_key"), "verbose_name_plural": "confirmed processes"},
        ),
        migrations.AlterModelOptions(
            name="foodtraining",
            options={"ordering": ("membership_id", "-trained_on")},
        ),
        migrations.AlterModelOptions(
            name="membership",
            options={"ordering": ("kitchen_id", "user__display_name")},
        ),
        migrations.AlterModelOptions(
            name="openinghours",
            options={"ordering": ("kitchen_id", "weekday", "opens"), "verbose_name_plural": "opening hours"},
        ),
    ]
