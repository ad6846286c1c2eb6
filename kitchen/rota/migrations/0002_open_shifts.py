import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("rota", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="shift",
            name="asked_for",
            field=models.BooleanField(default=False),
        ),
        migrations.AlterField(
            model_name="shift",
            name="user",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="shifts",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.CreateModel(
            name="FormerHolder",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("lost_at", models.DateTimeField()),
                (
                    "shift",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="former_holders",
                        to="rota.shift",
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("shift", "user"),
                "constraints": [models.UniqueConstraint(fields=("shift", "user"), name="former_holder_once")],
            },
        ),
        migrations.CreateModel(
            name="SwapOffer",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("shift_sequence", models.PositiveIntegerField()),
                ("wants_sequence", models.PositiveIntegerField(blank=True, null=True)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("open", "Open"),
                            ("accepted", "Accepted"),
                            ("withdrawn", "Withdrawn"),
                            ("lapsed", "Lapsed"),
                        ],
                        default="open",
                        max_length=10,
                    ),
                ),
                ("created_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("decided_at", models.DateTimeField(blank=True, null=True)),
                (
                    "accepted_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "offered_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "shift",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="offers", to="rota.shift"
                    ),
                ),
                (
                    "to",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "wants",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="rota.shift",
                    ),
                ),
            ],
            options={
                "ordering": ("created_at", "id"),
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("state", "open")),
                        fields=("shift",),
                        name="swap_offer_one_open_a_shift",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("state__in", ["open", "accepted", "withdrawn", "lapsed"])),
                        name="swap_offer_state",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("to__isnull", True),
                            models.Q(("to", models.F("offered_by")), _negated=True),
                            _connector="OR",
                        ),
                        name="swap_offer_to_another",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("wants__isnull", True), ("wants_sequence__isnull", True)),
                            models.Q(
                                ("to__isnull", False),
                                ("wants__isnull", False),
                                ("wants_sequence__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="swap_offer_wants_of_one_person",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("accepted_by__isnull", False), ("state", "accepted")),
                            models.Q(
                                models.Q(("state", "accepted"), _negated=True), ("accepted_by__isnull", True)
                            ),
                            _connector="OR",
                        ),
                        name="swap_offer_accepted_by",
                    ),
                ],
            },
        ),
    ]
