from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("planning", "0006_ordered_by_own_columns"),
    ]

    operations = [
        migrations.AddField(
            model_name="load",
            name="used_up",
            field=models.BooleanField(default=False),
        ),
    ]
