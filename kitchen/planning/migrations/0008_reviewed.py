from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("planning", "0007_used_up"),
    ]

    operations = [
        migrations.AddField(
            model_name="load",
            name="reviewed",
            field=models.BooleanField(default=False),
        ),
        migrations.AddIndex(
            model_name="load",
            index=models.Index(
                condition=models.Q(("reviewed", False)), fields=["harvest_day"], name="load_not_reviewed"
            ),
        ),
    ]
