import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("batches", "0002_batch_harvest_day"),
        ("equipment", "0003_cannertime_held_until"),
    ]

    operations = [
        migrations.CreateModel(
            name="SlotStand",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("area_sq_in", models.FloatField()),
                ("starts_at", models.DateTimeField()),
                ("ends_at", models.DateTimeField()),
                (
                    "cooling_table",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="equipment.coolingtable",
                    ),
                ),
                (
                    "slot",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="stands", to="batches.slot"
                    ),
                ),
            ],
            options={
                "ordering": ("starts_at", "id"),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("ends_at__gt", models.F("starts_at"))),
                        name="slot_stand_ends_after_start",
                    ),
                    models.CheckConstraint(condition=models.Q(("area_sq_in__gt", 0)), name="slot_stand_area"),
                ],
            },
        ),
    ]
