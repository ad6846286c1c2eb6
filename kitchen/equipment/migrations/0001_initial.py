import uuid

import django.core.validators
import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("members", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Burner",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("name", models.CharField(max_length=40)),
                ("power_w", models.PositiveIntegerField()),
                ("efficiency", models.FloatField()),
                (
                    "kitchen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="burners",
                        to="members.kitchen",
                    ),
                ),
            ],
            options={
                "ordering": ("kitchen", "name"),
            },
        ),
        migrations.CreateModel(
            name="Canner",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                (
                    "code",
                    models.CharField(
                        max_length=4,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[A-Z0-9]{1,4}$", "One to four capitals or digits."
                            )
                        ],
                    ),
                ),
                ("name", models.CharField(max_length=60)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("dial", "Pressure, dial gauge"),
                            ("weighted", "Pressure, weighted gauge"),
                            ("boiling-water", "Boiling-water"),
                            ("steam", "Atmospheric steam"),
                        ],
                        max_length=20,
                    ),
                ),
                ("inside_diameter_in", models.FloatField()),
                ("inside_depth_in", models.FloatField()),
                ("layers", models.PositiveSmallIntegerField(default=1)),
                ("own_counts", models.JSONField(blank=True, default=dict)),
                ("heavy_walled", models.BooleanField(default=False)),
                ("water_l", models.FloatField(blank=True, null=True)),
                ("empty_mass_kg", models.FloatField(blank=True, null=True)),
                ("own_heat_up_minutes", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("own_pressure_up_minutes", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("own_cool_down_minutes", models.JSONField(blank=True, default=dict)),
                ("out_of_service_reason", models.CharField(blank=True, max_length=200)),
                (
                    "burner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="canners",
                        to="equipment.burner",
                    ),
                ),
                (
                    "kitchen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="canners",
                        to="members.kitchen",
                    ),
                ),
            ],
            options={
                "ordering": ("kitchen", "code"),
            },
        ),
        migrations.CreateModel(
            name="CannerTime",
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
                    "purpose",
                    models.CharField(
                        choices=[("slot", "A member's slot"), ("load", "A load of a harvest day")],
                        max_length=10,
                    ),
                ),
                ("occupies", models.BooleanField(default=True)),
                (
                    "canner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="times",
                        to="equipment.canner",
                    ),
                ),
                (
                    "kitchen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="members.kitchen"
                    ),
                ),
            ],
            options={
                "ordering": ("starts_at", "canner"),
            },
        ),
        migrations.CreateModel(
            name="CoolingTable",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("name", models.CharField(max_length=40)),
                ("area_sq_in", models.FloatField()),
                (
                    "kitchen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="cooling_tables",
                        to="members.kitchen",
                    ),
                ),
            ],
            options={
                "ordering": ("kitchen", "name"),
            },
        ),
        migrations.CreateModel(
            name="GaugeCheck",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("checked_on", models.DateField()),
                ("error_psi", models.DecimalField(decimal_places=2, max_digits=4)),
                ("checked_by", models.CharField(max_length=80)),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "canner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="gauge_checks",
                        to="equipment.canner",
                    ),
                ),
                (
                    "recorded_by",
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
                "ordering": ("canner", "-checked_on", "-id"),
            },
        ),
        migrations.CreateModel(
            name="Kettle",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("name", models.CharField(max_length=40)),
                ("volume_qt", models.FloatField()),
                (
                    "burner",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="kettles",
                        to="equipment.burner",
                    ),
                ),
                (
                    "kitchen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="kettles",
                        to="members.kitchen",
                    ),
                ),
            ],
            options={
                "ordering": ("kitchen", "name"),
            },
        ),
        migrations.AddConstraint(
            model_name="burner",
            constraint=models.UniqueConstraint(fields=("kitchen", "name"), name="burner_name_once"),
        ),
        migrations.AddConstraint(
            model_name="burner",
            constraint=models.CheckConstraint(condition=models.Q(("power_w__gt", 0)), name="burner_power"),
        ),
        migrations.AddConstraint(
            model_name="burner",
            constraint=models.CheckConstraint(
                condition=models.Q(("efficiency__gt", 0), ("efficiency__lte", 1)), name="burner_efficiency"
            ),
        ),
        migrations.AddConstraint(
            model_name="canner",
            constraint=models.UniqueConstraint(fields=("kitchen", "name"), name="canner_name_once"),
        ),
        migrations.AddConstraint(
            model_name="canner",
            constraint=models.UniqueConstraint(fields=("kitchen", "code"), name="canner_code_once"),
        ),
        migrations.AddConstraint(
            model_name="canner",
            constraint=models.CheckConstraint(
                condition=models.Q(("kind__in", ["dial", "weighted", "boiling-water", "steam"])),
                name="canner_kind",
            ),
        ),
        migrations.AddConstraint(
            model_name="canner",
            constraint=models.CheckConstraint(
                condition=models.Q(("inside_depth_in__gt", 0), ("inside_diameter_in__gt", 0)),
                name="canner_inside",
            ),
        ),
        migrations.AddConstraint(
            model_name="canner",
            constraint=models.CheckConstraint(
                condition=models.Q(("layers__range", (1, 2))), name="canner_layers"
            ),
        ),
        migrations.AddIndex(
            model_name="cannertime",
            index=models.Index(fields=["kitchen", "starts_at"], name="canner_time_kitchen_start"),
        ),
        migrations.AddConstraint(
            model_name="cannertime",
            constraint=models.CheckConstraint(
                condition=models.Q(("ends_at__gt", models.F("starts_at"))),
                name="canner_time_ends_after_start",
            ),
        ),
        migrations.AddConstraint(
            model_name="cannertime",
            constraint=models.CheckConstraint(
                condition=models.Q(("purpose__in", ["slot", "load"])), name="canner_time_purpose"
            ),
        ),
        migrations.AddConstraint(
            model_name="coolingtable",
            constraint=models.UniqueConstraint(fields=("kitchen", "name"), name="cooling_table_name_once"),
        ),
        migrations.AddConstraint(
            model_name="coolingtable",
            constraint=models.CheckConstraint(
                condition=models.Q(("area_sq_in__gt", 0)), name="cooling_table_area"
            ),
        ),
        migrations.AddConstraint(
            model_name="kettle",
            constraint=models.UniqueConstraint(fields=("kitchen", "name"), name="kettle_name_once"),
        ),
        migrations.AddConstraint(
            model_name="kettle",
            constraint=models.CheckConstraint(condition=models.Q(("volume_qt__gt", 0)), name="kettle_volume"),
        ),
    ]
