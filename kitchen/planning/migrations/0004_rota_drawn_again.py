from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("planning", "0003_rest_of_day"),
    ]

    operations = [
        migrations.AddField(
            model_name="planjob",
            name="around",
            field=models.JSONField(blank=True, null=True),
        ),
    ]
