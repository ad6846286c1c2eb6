from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("members", "0002_plan_by_records"),
    ]

    operations = [
        migrations.AddField(
            model_name="kitchen",
            name="break_every_minutes",
            field=models.PositiveSmallIntegerField(default=180),
        ),
        migrations.AddField(
            model_name="kitchen",
            name="break_minutes",
            field=models.PositiveSmallIntegerField(default=15),
        ),
        migrations.AddField(
            model_name="kitchen",
            name="longest_shift_minutes",
            field=models.PositiveSmallIntegerField(default=720),
        ),
        migrations.AddField(
            model_name="kitchen",
            name="meal_after_minutes",
            field=models.PositiveSmallIntegerField(default=300),
        ),
        migrations.AddField(
            model_name="kitchen",
            name="meal_minutes",
            field=models.PositiveSmallIntegerField(default=30),
        ),
        migrations.AddField(
            model_name="kitchen",
            name="rest_minutes",
            field=models.PositiveSmallIntegerField(default=600),
        ),
        migrations.AddField(
            model_name="kitchen",
            name="walking_minutes",
            field=models.PositiveSmallIntegerField(default=0),
        ),
        migrations.AddConstraint(
            model_name="kitchen",
            constraint=models.CheckConstraint(
                condition=models.Q(("break_minutes__range", (5, 60))), name="kitchen_break"
            ),
        ),
        migrations.AddConstraint(
            model_name="kitchen",
            constraint=models.CheckConstraint(
                condition=models.Q(("break_every_minutes__range", (60, 360))), name="kitchen_break_every"
            ),
        ),
        migrations.AddConstraint(
            model_name="kitchen",
            constraint=models.CheckConstraint(
                condition=models.Q(("meal_minutes__range", (10, 120))), name="kitchen_meal"
            ),
        ),
        migrations.AddConstraint(
            model_name="kitchen",
            constraint=models.CheckConstraint(
                condition=models.Q(("meal_after_minutes__range", (120, 480))), name="kitchen_meal_after"
            ),
        ),
        migrations.AddConstraint(
            model_name="kitchen",
            constraint=models.CheckConstraint(
                condition=models.Q(("longest_shift_minutes__range", (120, 960))), name="kitchen_longest_shift"
            ),
        ),
        migrations.AddConstraint(
            model_name="kitchen",
            constraint=models.CheckConstraint(
                condition=models.Q(("rest_minutes__range", (480, 1440))), name="kitchen_rest"
            ),
        ),
        migrations.AddConstraint(
            model_name="kitchen",
            constraint=models.CheckConstraint(
                condition=models.Q(("walking_minutes__range", (0, 15))), name="kitchen_walking"
            ),
        ),
    ]
