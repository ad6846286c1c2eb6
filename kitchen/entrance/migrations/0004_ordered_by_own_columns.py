"""Rows are ordered by their own columns: to order by a relation joins all that the related rows are ordered by."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("entrance", "0003_account_news"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="passkey",
            options={"ordering": ("user_id", "added_at")},
        ),
    ]
