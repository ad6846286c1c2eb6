"""Rows are ordered by their own columns: to order by a relation joins all that the related rows are ordered by."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("calendars", "0002_canner_and_rota"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="feed",
            options={"ordering": ("kitchen_id", "user_id", "kind", "-created_at")},
        ),
    ]
