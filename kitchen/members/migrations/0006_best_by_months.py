from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("members", "0005_booking"),
    ]

    operations = [
        migrations.AddField(
            model_name="kitchen",
            name="best_by_months",
            field=models.PositiveSmallIntegerField(default=12),
        ),
        migrations.AddConstraint(
            model_name="kitchen",
            constraint=models.CheckConstraint(
                condition=models.Q(("best_by_months__range", (1, 12))), name="kitchen_best_by_months"
            ),
        ),
    ]
