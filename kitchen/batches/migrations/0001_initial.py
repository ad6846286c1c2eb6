import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("equipment", "0001_initial"),
        ("members", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Batch",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("food_id", models.CharField(max_length=60)),
                ("food_name", models.CharField(max_length=120)),
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
                ("amount", models.DecimalField(decimal_places=2, max_digits=8)),
                (
                    "unit",
                    models.CharField(
                        choices=[
                            ("jars", "jars"),
                            ("pounds", "pounds"),
                            ("bushel", "bushels"),
                            ("lug", "lugs"),
                            ("crate", "crates"),
                            ("sack", "sacks"),
                        ],
                        max_length=10,
                    ),
                ),
                ("jars_low", models.PositiveIntegerField()),
                ("jars_high", models.PositiveIntegerField()),
                ("jars", models.PositiveIntegerField()),
                ("arrives_at", models.DateTimeField()),
                ("picks_up_at", models.DateTimeField()),
                ("prep_person_minutes_per_jar", models.FloatField(blank=True, null=True)),
                ("kettle_minutes", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("declared", "Declared"),
                            ("arrived", "Arrived"),
                            ("planned", "Planned"),
                            ("done", "Done"),
                            ("cancelled", "Cancelled"),
                        ],
                        default="declared",
                        max_length=10,
                    ),
                ),
                ("declared_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "kitchen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="batches",
                        to="members.kitchen",
                    ),
                ),
                (
                    "member",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="batches",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "batches",
                "ordering": ("arrives_at", "id"),
            },
        ),
        migrations.CreateModel(
            name="Slot",
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
                        choices=[("booked", "Booked"), ("cancelled", "Cancelled")],
                        default="booked",
                        max_length=10,
                    ),
                ),
                ("sequence", models.PositiveIntegerField(default=0)),
                ("booked_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("changed_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("cancelled_at", models.DateTimeField(blank=True, null=True)),
                (
                    "batch",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="slots",
                        to="batches.batch",
                    ),
                ),
                (
                    "canner_time",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="slot",
                        to="equipment.cannertime",
                    ),
                ),
                (
                    "kitchen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="slots",
                        to="members.kitchen",
                    ),
                ),
                (
                    "member",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="slots",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("canner_time__starts_at", "id"),
            },
        ),
        migrations.AddIndex(
            model_name="batch",
            index=models.Index(fields=["kitchen", "arrives_at"], name="batch_kitchen_arrival"),
        ),
        migrations.AddConstraint(
            model_name="batch",
            constraint=models.CheckConstraint(
                condition=models.Q(("picks_up_at__gt", models.F("arrives_at"))),
                name="batch_picked_up_after_arrival",
            ),
        ),
        migrations.AddConstraint(
            model_name="batch",
            constraint=models.CheckConstraint(
                condition=models.Q(("jars__range", (1, 2000))), name="batch_jars"
            ),
        ),
        migrations.AddConstraint(
            model_name="batch",
            constraint=models.CheckConstraint(
                condition=models.Q(("jars_high__gte", models.F("jars_low"))), name="batch_jars_range"
            ),
        ),
        migrations.AddConstraint(
            model_name="batch",
            constraint=models.CheckConstraint(condition=models.Q(("amount__gt", 0)), name="batch_amount"),
        ),
        migrations.AddConstraint(
            model_name="batch",
            constraint=models.CheckConstraint(
                condition=models.Q(("pack__in", ["hot", "raw"])), name="batch_pack"
            ),
        ),
        migrations.AddConstraint(
            model_name="batch",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "jar__in",
                        [
                            "quarter_pint",
                            "half_pint",
                            "twelve_ounce",
                            "pint",
                            "pint_and_half",
                            "quart",
                            "half_gallon",
                        ],
                    )
                ),
                name="batch_jar",
            ),
        ),
        migrations.AddConstraint(
            model_name="batch",
            constraint=models.CheckConstraint(
                condition=models.Q(("unit__in", ["jars", "pounds", "bushel", "lug", "crate", "sack"])),
                name="batch_unit",
            ),
        ),
        migrations.AddConstraint(
            model_name="batch",
            constraint=models.CheckConstraint(
                condition=models.Q(("state__in", ["declared", "arrived", "planned", "done", "cancelled"])),
                name="batch_state",
            ),
        ),
        migrations.AddConstraint(
            model_name="slot",
            constraint=models.CheckConstraint(
                condition=models.Q(("state__in", ["booked", "cancelled"])), name="slot_state"
            ),
        ),
        migrations.AddConstraint(
            model_name="slot",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("cancelled_at__isnull", False), ("state", "cancelled")),
                    models.Q(("cancelled_at__isnull", True), ("state", "booked")),
                    _connector="OR",
                ),
                name="slot_cancelled_when",
            ),
        ),
    ]
