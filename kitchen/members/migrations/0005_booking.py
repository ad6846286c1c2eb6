from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("members", "0004_food_training"),
    ]

    operations = [
        migrations.AddField(
            model_name="kitchen",
            name="hold_minutes",
            field=models.PositiveSmallIntegerField(default=10),
        ),
        migrations.AddField(
            model_name="kitchen",
            name="jar_fee",
            field=models.CharField(blank=True, max_length=80),
        ),
        migrations.AddField(
            model_name="kitchen",
            name="most_in_group",
            field=models.PositiveSmallIntegerField(default=4),
        ),
        migrations.AddField(
            model_name="kitchen",
            name="under_16_may_book",
            field=models.BooleanField(default=False),
        ),
        migrations.AddConstraint(
            model_name="kitchen",
            constraint=models.CheckConstraint(
                condition=models.Q(("hold_minutes__range", (2, 60))), name="kitchen_hold_minutes"
            ),
        ),
        migrations.AddConstraint(
            model_name="kitchen",
            constraint=models.CheckConstraint(
                condition=models.Q(("most_in_group__range", (1, 12))), name="kitchen_most_in_group"
            ),
        ),
    ]
