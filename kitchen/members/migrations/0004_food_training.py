import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("members", "0003_rest_of_people"),
    ]

    operations = [
        migrations.CreateModel(
            name="FoodTraining",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("trained_on", models.DateField()),
                ("expires_on", models.DateField(blank=True, null=True)),
                ("trained_by", models.CharField(max_length=80)),
                (
                    "membership",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="food_trainings",
                        to="members.membership",
                    ),
                ),
            ],
            options={
                "ordering": ("membership", "-trained_on"),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("expires_on__isnull", True),
                            ("expires_on__gt", models.F("trained_on")),
                            _connector="OR",
                        ),
                        name="food_training_expires_later",
                    )
                ],
            },
        ),
    ]
