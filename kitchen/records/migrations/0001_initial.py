import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("floor", "0002_append_only"),
        ("planning", "0004_rota_drawn_again"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="RecordSignature",
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
                            ("signed", "Signed by the operator"),
                            ("reviewed", "Reviewed"),
                            ("sent_back", "Sent back to the operator"),
                        ],
                        max_length=10,
                    ),
                ),
                ("at", models.DateTimeField(default=django.utils.timezone.now)),
                ("digest", models.CharField(max_length=64)),
                ("deviation", models.TextField(blank=True)),
                ("alone", models.BooleanField(default=False)),
                ("note", models.TextField(blank=True)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "last_line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="floor.runevent"
                    ),
                ),
                (
                    "load",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="record_signatures",
                        to="planning.load",
                    ),
                ),
            ],
            options={
                "ordering": ("load", "id"),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("kind__in", ["signed", "reviewed", "sent_back"])),
                        name="record_signature_kind",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("kind", "sent_back"), _negated=True),
                            models.Q(("note", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="record_signature_back_why",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("alone", False), ("kind", "reviewed"), _connector="OR"),
                        name="record_signature_alone",
                    ),
                ],
            },
        ),
    ]
