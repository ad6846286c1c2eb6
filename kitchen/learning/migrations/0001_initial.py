import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("batches", "0002_batch_harvest_day"),
        ("equipment", "0002_no_double_booking"),
        ("members", "0002_plan_by_records"),
        ("planning", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="MeasuredTime",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("heat_up", "Heat-up"),
                            ("pressure_up", "Coming to pressure"),
                            ("cool_down", "Cool-down"),
                            ("unloading", "Unloading"),
                            ("prep", "Prep"),
                            ("kettle", "Kettle"),
                            ("fill", "Filling"),
                        ],
                        max_length=20,
                    ),
                ),
                ("family", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("jars", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("hands", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("on", models.DateField()),
                ("usual_minutes", models.FloatField()),
                ("recorded_minutes", models.FloatField()),
                ("least_minutes", models.PositiveSmallIntegerField(default=0)),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                (
                    "batch",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="measured_times",
                        to="batches.batch",
                    ),
                ),
                (
                    "canner",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="measured_times",
                        to="equipment.canner",
                    ),
                ),
                (
                    "kitchen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="measured_times",
                        to="members.kitchen",
                    ),
                ),
                (
                    "load",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="measured_times",
                        to="planning.load",
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("-on", "-id"),
                "indexes": [models.Index(fields=["kitchen", "on"], name="measured_time_kitchen_on")],
                "constraints": [
                    models.UniqueConstraint(fields=("load", "kind"), name="measured_time_once_a_load"),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "kind__in",
                                [
                                    "heat_up",
                                    "pressure_up",
                                    "cool_down",
                                    "unloading",
                                    "prep",
                                    "kettle",
                                    "fill",
                                ],
                            )
                        ),
                        name="measured_time_kind",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("recorded_minutes__gt", 0), ("usual_minutes__gt", 0)),
                        name="measured_time_minutes",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("batch__isnull", True), ("canner__isnull", False), ("load__isnull", False)
                            ),
                            models.Q(
                                ("batch__isnull", False), ("canner__isnull", True), ("load__isnull", True)
                            ),
                            _connector="OR",
                        ),
                        name="measured_time_of_a_load_or_a_batch",
                    ),
                ],
            },
        ),
    ]
