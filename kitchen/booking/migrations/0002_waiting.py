import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("booking", "0001_initial"),
        ("members", "0005_booking"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Waiting",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("day", models.DateField()),
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
                ("asked_at", models.DateTimeField()),
                ("told_at", models.DateTimeField(blank=True, null=True)),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
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
            ],
            options={
                "ordering": ("asked_at", "id"),
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("ended_at__isnull", True), ("told_at__isnull", True)),
                        fields=("kitchen", "member", "day", "food_id", "pack", "jar"),
                        name="waiting_once",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("jars__range", (1, 2000))), name="waiting_jars"
                    ),
                    models.CheckConstraint(condition=models.Q(("people__gte", 1)), name="waiting_people"),
                ],
            },
        ),
    ]
