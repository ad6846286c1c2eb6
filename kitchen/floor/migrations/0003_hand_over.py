"""Hand-overs of the watch, and the temperature of the food as the heat goes on."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from kitchen.audit.append_only import append_only, changeable


class Migration(migrations.Migration):
    dependencies = [
        ("floor", "0002_append_only"),
        ("planning", "0004_rota_drawn_again"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        changeable("floor_runevent"),
        migrations.RemoveConstraint(
            model_name="runevent",
            name="run_event_kind",
        ),
        migrations.AddField(
            model_name="runevent",
            name="initial_temp_f",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="runevent",
            name="taken_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AlterField(
            model_name="runevent",
            name="kind",
            field=models.CharField(
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
                    ("hand_over", "Watch handed over"),
                ],
                max_length=20,
            ),
        ),
        migrations.AddConstraint(
            model_name="runevent",
            constraint=models.CheckConstraint(
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
                            "hand_over",
                        ],
                    )
                ),
                name="run_event_kind",
            ),
        ),
        migrations.AddConstraint(
            model_name="runevent",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind", "hand_over"), ("taken_by__isnull", False)),
                    models.Q(models.Q(("kind", "hand_over"), _negated=True), ("taken_by__isnull", True)),
                    _connector="OR",
                ),
                name="run_event_hand_over_to_somebody",
            ),
        ),
        migrations.AddConstraint(
            model_name="runevent",
            constraint=models.CheckConstraint(
                condition=models.Q(("initial_temp_f__isnull", True), ("kind", "loaded"), _connector="OR"),
                name="run_event_temperature_when_loaded",
            ),
        ),
        append_only("floor_runevent"),
    ]
