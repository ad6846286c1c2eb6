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
            name="HoldDecision",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "outcome",
                    models.CharField(
                        choices=[("released", "Released"), ("discarded", "Thrown out")], max_length=10
                    ),
                ),
                ("reason", models.TextField()),
                ("decided_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "decided_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "load",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="hold_decisions",
                        to="planning.load",
                    ),
                ),
            ],
            options={
                "ordering": ("load", "id"),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("outcome__in", ["released", "discarded"])),
                        name="hold_decision_outcome",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True), name="hold_decision_reason"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ReprocessOffer",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("jars", models.PositiveIntegerField()),
                ("deadline", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("open", "Open"),
                            ("booked", "Booked"),
                            ("declined", "Declined: refrigerate and use"),
                            ("expired", "Expired: refrigerate and use"),
                        ],
                        default="open",
                        max_length=10,
                    ),
                ),
                ("offered_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("decided_at", models.DateTimeField(blank=True, null=True)),
                (
                    "portion",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="reprocess_offer",
                        to="planning.loadportion",
                    ),
                ),
            ],
            options={
                "ordering": ("deadline", "id"),
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("jars__gt", 0)), name="reprocess_offer_jars"),
                    models.CheckConstraint(
                        condition=models.Q(("state__in", ["open", "booked", "declined", "expired"])),
                        name="reprocess_offer_state",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="SealCheck",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("sealed", models.PositiveIntegerField()),
                ("unsealed", models.PositiveIntegerField()),
                ("broken", models.PositiveIntegerField()),
                ("checked_at", models.DateTimeField()),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "checked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="seals.sealcheck",
                    ),
                ),
                (
                    "portion",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="seal_checks",
                        to="planning.loadportion",
                    ),
                ),
            ],
            options={
                "ordering": ("portion", "id"),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("sealed__gte", 0), ("unsealed__gte", 0), ("broken__gte", 0)),
                        name="seal_check_counts",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("corrects__isnull", True)),
                        fields=("portion",),
                        name="seal_check_first_once",
                    ),
                ],
            },
        ),
    ]
