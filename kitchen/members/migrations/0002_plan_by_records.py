from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("members", "0001_initial"),
    ]

    operations = [
        migrations.AddField(
            model_name="kitchen",
            name="kept_percent",
            field=models.PositiveSmallIntegerField(default=80),
        ),
        migrations.AddField(
            model_name="kitchen",
            name="plan_by_records",
            field=models.BooleanField(default=True),
        ),
        migrations.AddConstraint(
            model_name="kitchen",
            constraint=models.CheckConstraint(
                condition=models.Q(("kept_percent__range", (50, 95))), name="kitchen_kept_percent"
            ),
        ),
    ]
