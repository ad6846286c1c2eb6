import uuid

import django.db.models.deletion
import django.utils.timezone
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("members", "0004_food_training"),
    ]

    operations = [
        migrations.CreateModel(
            name="BusyCalendar",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("file", "A file that was uploaded"),
                            ("address", "An address that is read again and again"),
                        ],
                        max_length=10,
                    ),
                ),
                ("name", models.CharField(max_length=100)),
                ("address", models.CharField(blank=True, max_length=500)),
                ("added_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("read_at", models.DateTimeField(blank=True, null=True)),
                ("read_until", models.DateTimeField(blank=True, null=True)),
                ("skipped", models.PositiveIntegerField(default=0)),
                ("next_read_at", models.DateTimeField(blank=True, null=True)),
                ("failure", models.CharField(blank=True, max_length=300)),
                (
                    "membership",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="busy_calendars",
                        to="members.membership",
                    ),
                ),
            ],
            options={
                "ordering": ("membership", "kind"),
            },
        ),
        migrations.CreateModel(
            name="BusySpan",
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
                    "calendar",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="spans",
                        to="helping.busycalendar",
                    ),
                ),
            ],
            options={
                "ordering": ("starts_at", "id"),
            },
        ),
        migrations.CreateModel(
            name="StationWish",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "station",
                    models.CharField(
                        choices=[
                            ("prep", "Prep"),
                            ("kettle", "Kettle"),
                            ("fill", "Fill"),
                            ("canner", "Canner"),
                            ("cooling", "Cooling and labels"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "feeling",
                    models.CharField(choices=[("likes", "gladly"), ("cannot", "not at all")], max_length=10),
                ),
                (
                    "membership",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="station_wishes",
                        to="members.membership",
                    ),
                ),
            ],
            options={
                "ordering": ("membership", "station"),
            },
        ),
        migrations.CreateModel(
            name="Wishes",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("most_minutes", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("learning", models.BooleanField(default=False)),
                (
                    "comes_with",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="members.membership",
                    ),
                ),
                (
                    "membership",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="wishes",
                        to="members.membership",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "wishes",
            },
        ),
        migrations.AddIndex(
            model_name="busycalendar",
            index=models.Index(fields=["next_read_at"], name="busy_calendar_due"),
        ),
        migrations.AddConstraint(
            model_name="busycalendar",
            constraint=models.UniqueConstraint(fields=("membership", "kind"), name="busy_calendar_once"),
        ),
        migrations.AddConstraint(
            model_name="busycalendar",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("address", ""), ("kind", "file"), ("next_read_at__isnull", True)),
                    models.Q(
                        ("kind", "address"),
                        ("next_read_at__isnull", False),
                        models.Q(("address", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="busy_calendar_file_or_address",
            ),
        ),
        migrations.AddConstraint(
            model_name="busyspan",
            constraint=models.CheckConstraint(
                condition=models.Q(("ends_at__gt", models.F("starts_at"))), name="busy_span_ends_after_start"
            ),
        ),
        migrations.AddConstraint(
            model_name="busyspan",
            constraint=models.UniqueConstraint(fields=("calendar", "starts_at"), name="busy_span_once"),
        ),
        migrations.AddConstraint(
            model_name="stationwish",
            constraint=models.UniqueConstraint(fields=("membership", "station"), name="station_wish_once"),
        ),
        migrations.AddConstraint(
            model_name="stationwish",
            constraint=models.CheckConstraint(
                condition=models.Q(("station__in", ["prep", "kettle", "fill", "canner", "cooling"])),
                name="station_wish_station",
            ),
        ),
        migrations.AddConstraint(
            model_name="stationwish",
            constraint=models.CheckConstraint(
                condition=models.Q(("feeling__in", ["likes", "cannot"])), name="station_wish_feeling"
            ),
        ),
        migrations.AddConstraint(
            model_name="wishes",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("most_minutes__isnull", True), ("most_minutes__range", (30, 960)), _connector="OR"
                ),
                name="wishes_most_minutes",
            ),
        ),
        migrations.AddConstraint(
            model_name="wishes",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("comes_with__isnull", True),
                    models.Q(("comes_with", models.F("membership")), _negated=True),
                    _connector="OR",
                ),
                name="wishes_come_with_another",
            ),
        ),
    ]
