"""The newest line of each of thousands of records is asked for: what waits for a review or a signature."""

from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("floor", "0004_ordered_by_own_columns"),
        ("planning", "0006_ordered_by_own_columns"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddIndex(
            model_name="runevent",
            index=models.Index(fields=["load", "id"], name="run_event_load_id"),
        ),
    ]
