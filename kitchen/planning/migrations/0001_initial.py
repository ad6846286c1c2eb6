import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("batches", "0001_initial"),
        ("equipment", "0001_initial"),
        ("members", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="HarvestDay",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("date", models.DateField()),
                ("opens_at", models.DateTimeField()),
                ("closes_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[("draft", "Draft"), ("published", "Published"), ("closed", "Closed")],
                        default="draft",
                        max_length=10,
                    ),
                ),
                ("version", models.PositiveIntegerField(default=0)),
                (
                    "kitchen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="harvest_days",
                        to="members.kitchen",
                    ),
                ),
            ],
            options={
                "ordering": ("-date", "kitchen"),
            },
        ),
        migrations.CreateModel(
            name="LeftOut",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("jars", models.PositiveIntegerField()),
                ("code", models.CharField(max_length=40)),
                ("reason", models.TextField()),
                ("remedy", models.TextField(blank=True)),
                (
                    "batch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="left_out",
                        to="batches.batch",
                    ),
                ),
                (
                    "harvest_day",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="left_out",
                        to="planning.harvestday",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "left out",
                "ordering": ("harvest_day", "batch"),
            },
        ),
        migrations.CreateModel(
            name="Load",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("number", models.PositiveSmallIntegerField()),
                ("lot_code", models.CharField(max_length=40)),
                ("method", models.CharField(max_length=20)),
                ("pressure_psi", models.FloatField(blank=True, null=True)),
                ("target_reading_psi", models.FloatField(blank=True, null=True)),
                ("process_minutes", models.PositiveSmallIntegerField()),
                ("sterilise_jars", models.BooleanField(default=False)),
                ("water_jars", models.PositiveSmallIntegerField(default=0)),
                ("stand_area_sq_in", models.FloatField(default=0)),
                ("stands_until", models.DateTimeField(blank=True, null=True)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("planned", "Planned"),
                            ("running", "Running"),
                            ("out", "Jars out"),
                            ("closed", "Closed"),
                            ("cancelled", "Cancelled"),
                        ],
                        default="planned",
                        max_length=10,
                    ),
                ),
                ("process_ended_at", models.DateTimeField(blank=True, null=True)),
                ("jars_out_at", models.DateTimeField(blank=True, null=True)),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                ("cancelled_at", models.DateTimeField(blank=True, null=True)),
                ("deviation", models.TextField(blank=True)),
                ("on_hold", models.BooleanField(default=False)),
                ("discarded", models.BooleanField(default=False)),
                ("places", models.JSONField(blank=True, default=list)),
                ("sequence", models.PositiveIntegerField(default=0)),
                ("changed_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "canner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="loads",
                        to="equipment.canner",
                    ),
                ),
                (
                    "canner_time",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="load",
                        to="equipment.cannertime",
                    ),
                ),
                (
                    "cooling_table",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="loads",
                        to="equipment.coolingtable",
                    ),
                ),
                (
                    "harvest_day",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="loads",
                        to="planning.harvestday",
                    ),
                ),
            ],
            options={
                "ordering": ("harvest_day", "canner", "number"),
            },
        ),
        migrations.CreateModel(
            name="LoadPhase",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("kind", models.CharField(max_length=20)),
                ("starts_at", models.DateTimeField()),
                ("ends_at", models.DateTimeField()),
                (
                    "load",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="phases", to="planning.load"
                    ),
                ),
            ],
            options={
                "ordering": ("load", "starts_at", "id"),
            },
        ),
        migrations.CreateModel(
            name="LoadPortion",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("jars", models.PositiveIntegerField()),
                ("process_key", models.CharField(max_length=120)),
                ("headspace_in", models.FloatField()),
                ("sterilise_jars", models.BooleanField(default=False)),
                ("acid", models.JSONField(blank=True, default=list)),
                (
                    "batch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="portions",
                        to="batches.batch",
                    ),
                ),
                (
                    "load",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="portions",
                        to="planning.load",
                    ),
                ),
            ],
            options={
                "ordering": ("load", "id"),
            },
        ),
        migrations.CreateModel(
            name="PlanJob",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "Waiting"),
                            ("running", "Planning"),
                            ("stop_asked", "Stopping"),
                            ("finished", "Finished"),
                            ("stopped", "Stopped early"),
                            ("failed", "Failed"),
                        ],
                        default="waiting",
                        max_length=10,
                    ),
                ),
                ("seconds_limit", models.PositiveSmallIntegerField(default=10)),
                ("seed", models.PositiveIntegerField(default=1)),
                ("progress", models.JSONField(blank=True, default=dict)),
                ("day", models.JSONField(blank=True, null=True)),
                ("plan", models.JSONField(blank=True, null=True)),
                ("input_hash", models.CharField(blank=True, max_length=64)),
                ("day_version", models.PositiveIntegerField()),
                ("created_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("started_at", models.DateTimeField(blank=True, null=True)),
                ("heartbeat_at", models.DateTimeField(blank=True, null=True)),
                ("finished_at", models.DateTimeField(blank=True, null=True)),
                ("published_at", models.DateTimeField(blank=True, null=True)),
                ("failure", models.TextField(blank=True)),
                (
                    "harvest_day",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="plan_jobs",
                        to="planning.harvestday",
                    ),
                ),
                (
                    "requested_by",
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
                "ordering": ("-created_at", "-id"),
            },
        ),
        migrations.AddConstraint(
            model_name="harvestday",
            constraint=models.UniqueConstraint(fields=("kitchen", "date"), name="harvest_day_once"),
        ),
        migrations.AddConstraint(
            model_name="harvestday",
            constraint=models.CheckConstraint(
                condition=models.Q(("closes_at__gt", models.F("opens_at"))),
                name="harvest_day_closes_after_opening",
            ),
        ),
        migrations.AddConstraint(
            model_name="harvestday",
            constraint=models.CheckConstraint(
                condition=models.Q(("state__in", ["draft", "published", "closed"])), name="harvest_day_state"
            ),
        ),
        migrations.AddConstraint(
            model_name="leftout",
            constraint=models.CheckConstraint(condition=models.Q(("jars__gt", 0)), name="left_out_jars"),
        ),
        migrations.AddConstraint(
            model_name="load",
            constraint=models.UniqueConstraint(
                condition=models.Q(("state", "cancelled"), _negated=True),
                fields=("harvest_day", "canner", "number"),
                name="load_number_once",
            ),
        ),
        migrations.AddConstraint(
            model_name="load",
            constraint=models.UniqueConstraint(
                condition=models.Q(("state", "cancelled"), _negated=True),
                fields=("lot_code",),
                name="load_lot_code_once",
            ),
        ),
        migrations.AddConstraint(
            model_name="load",
            constraint=models.CheckConstraint(
                condition=models.Q(("process_minutes__gt", 0)), name="load_process_minutes"
            ),
        ),
        migrations.AddConstraint(
            model_name="load",
            constraint=models.CheckConstraint(
                condition=models.Q(("state__in", ["planned", "running", "out", "closed", "cancelled"])),
                name="load_state",
            ),
        ),
        migrations.AddConstraint(
            model_name="load",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("state__in", ("out", "closed")), _negated=True),
                    ("jars_out_at__isnull", False),
                    _connector="OR",
                ),
                name="load_out_when",
            ),
        ),
        migrations.AddConstraint(
            model_name="load",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("on_hold", False), models.Q(("deviation", ""), _negated=True), _connector="OR"
                ),
                name="load_hold_needs_deviation",
            ),
        ),
        migrations.AddConstraint(
            model_name="loadphase",
            constraint=models.UniqueConstraint(fields=("load", "kind"), name="load_phase_once"),
        ),
        migrations.AddConstraint(
            model_name="loadphase",
            constraint=models.CheckConstraint(
                condition=models.Q(("ends_at__gt", models.F("starts_at"))), name="load_phase_ends_after_start"
            ),
        ),
        migrations.AddConstraint(
            model_name="loadportion",
            constraint=models.UniqueConstraint(fields=("load", "batch"), name="load_portion_once"),
        ),
        migrations.AddConstraint(
            model_name="loadportion",
            constraint=models.CheckConstraint(condition=models.Q(("jars__gt", 0)), name="load_portion_jars"),
        ),
        migrations.AddConstraint(
            model_name="planjob",
            constraint=models.UniqueConstraint(
                condition=models.Q(("state__in", ("waiting", "running", "stop_asked"))),
                fields=("harvest_day",),
                name="plan_job_one_open_a_day",
            ),
        ),
        migrations.AddConstraint(
            model_name="planjob",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("state__in", ["waiting", "running", "stop_asked", "finished", "stopped", "failed"])
                ),
                name="plan_job_state",
            ),
        ),
        migrations.AddConstraint(
            model_name="planjob",
            constraint=models.CheckConstraint(
                condition=models.Q(("seconds_limit__range", (1, 600))), name="plan_job_seconds"
            ),
        ),
    ]
