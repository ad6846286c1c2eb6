from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("equipment", "0002_no_double_booking"),
    ]

    operations = [
        migrations.AddField(
            model_name="cannertime",
            name="held_until",
            field=models.DateTimeField(blank=True, null=True),
        ),
    ]
