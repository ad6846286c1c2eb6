"""Rows are ordered by their own columns: to order by a relation joins all that the related rows are ordered by."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("api", "0001_initial"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="token",
            options={"ordering": ("kitchen_id", "user_id", "-created_at")},
        ),
    ]
