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
            name="RunEvent",
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
                            ("loaded", "Loaded, heat on"),
                            ("steady_steam", "Steady steam"),
                            ("weight_on", "Weight on, vent closed"),
                            ("at_pressure", "At pressure"),
                            ("pressure_lost", "Pressure lost"),
                            ("full_boil", "Full boil"),
                            ("boil_lost", "Boil lost"),
                            ("heat_off", "Heat off"),
                            ("zero_pressure", "Zero pressure"),
                            ("lid_off", "Lid off"),
                            ("jars_out", "Jars out"),
                        ],
                        max_length=20,
                    ),
                ),
                ("at", models.DateTimeField()),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("withdraws", models.BooleanField(default=False)),
                ("reading_psi", models.FloatField(blank=True, null=True)),
                ("note", models.TextField(blank=True)),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="floor.runevent",
                    ),
                ),
                (
                    "load",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="run_events",
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
                "ordering": ("load", "at", "id"),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "kind__in",
                                [
                                    "loaded",
                                    "steady_steam",
                                    "weight_on",
                                    "at_pressure",
                                    "pressure_lost",
                                    "full_boil",
                                    "boil_lost",
                                    "heat_off",
                                    "zero_pressure",
                                    "lid_off",
                                    "jars_out",
                                ],
                            )
                        ),
                        name="run_event_kind",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("withdraws", False), ("corrects__isnull", False), _connector="OR"
                        ),
                        name="run_event_withdraws_another",
                    ),
                ],
            },
        ),
    ]
