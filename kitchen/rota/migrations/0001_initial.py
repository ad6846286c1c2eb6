import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("planning", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Attendance",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("starts_at", models.DateTimeField()),
                ("ends_at", models.DateTimeField()),
                (
                    "harvest_day",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attendances",
                        to="planning.harvestday",
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attendances",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("harvest_day", "user", "starts_at"),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("ends_at__gt", models.F("starts_at"))),
                        name="attendance_ends_after_start",
                    ),
                    models.UniqueConstraint(
                        fields=("harvest_day", "user", "starts_at"), name="attendance_once"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Shift",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                (
                    "station",
                    models.CharField(
                        choices=[
                            ("prep", "Prep"),
                            ("kettle", "Kettle"),
                            ("fill", "Fill"),
                            ("canner", "Canner"),
                            ("cooling", "Cooling and labels"),
                        ],
                        max_length=10,
                    ),
                ),
                ("task", models.CharField(blank=True, max_length=20)),
                ("starts_at", models.DateTimeField()),
                ("ends_at", models.DateTimeField()),
                ("sequence", models.PositiveIntegerField(default=0)),
                ("changed_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("cancelled_at", models.DateTimeField(blank=True, null=True)),
                (
                    "harvest_day",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="shifts",
                        to="planning.harvestday",
                    ),
                ),
                (
                    "load",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="shifts",
                        to="planning.load",
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="shifts",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("starts_at", "user", "id"),
                "indexes": [models.Index(fields=["user", "starts_at"], name="shift_user_start")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("ends_at__gt", models.F("starts_at"))),
                        name="shift_ends_after_start",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("station__in", ["prep", "kettle", "fill", "canner", "cooling"])),
                        name="shift_station",
                    ),
                ],
            },
        ),
    ]
