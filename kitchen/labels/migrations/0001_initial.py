import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("planning", "0004_rota_drawn_again"),
        ("seals", "0002_append_only"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Reprocess",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "offer",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="reprocess",
                        to="seals.reprocessoffer",
                    ),
                ),
                (
                    "portion",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="reprocess_of",
                        to="planning.loadportion",
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
                "ordering": ("id",),
            },
        ),
        migrations.CreateModel(
            name="ShelfMove",
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
                            ("taken_home", "Taken home by the member"),
                            ("given", "Given to somebody else"),
                            ("used", "Used in the kitchen"),
                            ("thrown_out", "Thrown out"),
                            ("put_back", "Put back, or written by mistake"),
                        ],
                        max_length=12,
                    ),
                ),
                ("jars", models.PositiveIntegerField()),
                ("note", models.CharField(blank=True, max_length=200)),
                ("at", models.DateTimeField()),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "portion",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="shelf_moves",
                        to="planning.loadportion",
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
                "ordering": ("portion", "id"),
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("jars__gt", 0)), name="shelf_move_jars"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("kind__in", ["taken_home", "given", "used", "thrown_out", "put_back"])
                        ),
                        name="shelf_move_kind",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("kind", "given"), _negated=True),
                            models.Q(("note", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="shelf_move_given_to_whom",
                    ),
                ],
            },
        ),
    ]
