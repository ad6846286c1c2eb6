import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("batches", "0002_batch_harvest_day"),
        ("equipment", "0003_cannertime_held_until"),
        ("members", "0005_booking"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Hold",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("food_id", models.CharField(max_length=60)),
                ("pack", models.CharField(choices=[("hot", "Hot pack"), ("raw", "Raw pack")], max_length=10)),
                (
                    "jar",
                    models.CharField(
                        choices=[
                            ("quarter_pint", "Quarter-pint (4 oz)"),
                            ("half_pint", "Half-pint"),
                            ("twelve_ounce", "12 oz"),
                            ("pint", "Pint"),
                            ("pint_and_half", "Pint-and-a-half (24 oz)"),
                            ("quart", "Quart"),
                            ("half_gallon", "Half-gallon"),
                        ],
                        max_length=20,
                    ),
                ),
                ("jars", models.PositiveIntegerField()),
                ("people", models.PositiveSmallIntegerField()),
                ("arrives_at", models.DateTimeField()),
                ("comes_at", models.DateTimeField()),
                ("let_go_at", models.DateTimeField(blank=True, null=True)),
                (
                    "canner_time",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="holds",
                        to="equipment.cannertime",
                    ),
                ),
                (
                    "kitchen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="members.kitchen"
                    ),
                ),
                (
                    "member",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "replaces",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="batches.slot",
                    ),
                ),
                (
                    "slot",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="holds",
                        to="batches.slot",
                    ),
                ),
                (
                    "watcher",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("jars__range", (1, 2000))), name="hold_jars"),
                    models.CheckConstraint(condition=models.Q(("people__gte", 1)), name="hold_people"),
                ],
            },
        ),
    ]
