import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("members", "0001_initial"),
        ("planning", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Reminder",
            fields=[
                (
                    "id",
                    models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("first_call", "First call: the seals may be tested"),
                            ("seal_check", "Seal check: the seals must be tested now"),
                        ],
                        max_length=20,
                    ),
                ),
                ("channel", models.CharField(choices=[("email", "E-mail")], default="email", max_length=20)),
                ("jars_out_at", models.DateTimeField()),
                ("reprocess_by", models.DateTimeField(blank=True, null=True)),
                ("due_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("due", "Due"),
                            ("sending", "Being sent"),
                            ("done", "Sent"),
                            ("cancelled", "Cancelled"),
                            ("failed", "Given up"),
                        ],
                        default="due",
                        max_length=10,
                    ),
                ),
                ("next_attempt_at", models.DateTimeField()),
                ("attempts", models.PositiveSmallIntegerField(default=0)),
                ("claim_token", models.UUIDField(blank=True, null=True)),
                ("lease_until", models.DateTimeField(blank=True, null=True)),
                ("done_at", models.DateTimeField(blank=True, null=True)),
                ("last_failure", models.CharField(blank=True, max_length=200)),
                (
                    "kitchen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="reminders",
                        to="members.kitchen",
                    ),
                ),
                (
                    "portion",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="reminders",
                        to="planning.loadportion",
                    ),
                ),
                (
                    "recipient",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="reminders",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("due_at", "id"),
            },
        ),
        migrations.CreateModel(
            name="Notice",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("created_at", models.DateTimeField()),
                ("seen_at", models.DateTimeField(blank=True, null=True)),
                (
                    "recipient",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notices",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "reminder",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="notice",
                        to="reminders.reminder",
                    ),
                ),
            ],
            options={
                "ordering": ("-created_at", "-id"),
            },
        ),
        migrations.CreateModel(
            name="SweepRun",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("wall", models.DateTimeField()),
                ("elapsed_seconds", models.FloatField()),
                ("boot_id", models.CharField(blank=True, max_length=64)),
                ("step_seconds", models.FloatField(default=0)),
                ("held_from", models.DateTimeField(blank=True, null=True)),
                ("hold_until", models.DateTimeField(blank=True, null=True)),
                ("finished_at", models.DateTimeField(blank=True, null=True)),
                ("sent", models.PositiveIntegerField(default=0)),
                ("put_off", models.PositiveIntegerField(default=0)),
            ],
            options={
                "ordering": ("-id",),
                "indexes": [
                    models.Index(fields=["boot_id", "-id"], name="sweep_run_boot"),
                    models.Index(fields=["hold_until"], name="sweep_run_hold"),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("held_from__isnull", True), ("hold_until__isnull", True)),
                            models.Q(("held_from__isnull", False), ("hold_until__isnull", False)),
                            _connector="OR",
                        ),
                        name="sweep_run_holds_whole",
                    )
                ],
            },
        ),
        migrations.AddIndex(
            model_name="reminder",
            index=models.Index(fields=["state", "next_attempt_at"], name="reminder_due"),
        ),
        migrations.AddIndex(
            model_name="reminder",
            index=models.Index(fields=["state", "lease_until"], name="reminder_lease"),
        ),
        migrations.AddConstraint(
            model_name="reminder",
            constraint=models.UniqueConstraint(fields=("portion", "kind", "channel"), name="reminder_once"),
        ),
        migrations.AddConstraint(
            model_name="reminder",
            constraint=models.CheckConstraint(
                condition=models.Q(("kind__in", ["first_call", "seal_check"])), name="reminder_kind"
            ),
        ),
        migrations.AddConstraint(
            model_name="reminder",
            constraint=models.CheckConstraint(
                condition=models.Q(("channel__in", ["email"])), name="reminder_channel"
            ),
        ),
        migrations.AddConstraint(
            model_name="reminder",
            constraint=models.CheckConstraint(
                condition=models.Q(("state__in", ["due", "sending", "done", "cancelled", "failed"])),
                name="reminder_state",
            ),
        ),
        migrations.AddConstraint(
            model_name="reminder",
            constraint=models.CheckConstraint(
                condition=models.Q(("due_at__gt", models.F("jars_out_at"))),
                name="reminder_due_after_jars_out",
            ),
        ),
        migrations.AddConstraint(
            model_name="reminder",
            constraint=models.CheckConstraint(
                condition=models.Q(("next_attempt_at__gte", models.F("due_at"))), name="reminder_never_early"
            ),
        ),
        migrations.AddConstraint(
            model_name="reminder",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("claim_token__isnull", False), ("lease_until__isnull", False), ("state", "sending")
                    ),
                    models.Q(
                        models.Q(("state", "sending"), _negated=True),
                        ("claim_token__isnull", True),
                        ("lease_until__isnull", True),
                    ),
                    _connector="OR",
                ),
                name="reminder_claimed_while_sending",
            ),
        ),
        migrations.AddConstraint(
            model_name="reminder",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("done_at__isnull", False), ("state", "done")),
                    models.Q(models.Q(("state", "done"), _negated=True), ("done_at__isnull", True)),
                    _connector="OR",
                ),
                name="reminder_done_when",
            ),
        ),
        migrations.AddIndex(
            model_name="notice",
            index=models.Index(fields=["recipient", "-created_at"], name="notice_recipient"),
        ),
    ]
