import uuid

import django.core.validators
import django.db.models.deletion
import django.db.models.functions.text
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("auth", "0012_alter_user_first_name_max_length"),
    ]

    operations = [
        migrations.CreateModel(
            name="User",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("password", models.CharField(max_length=128, verbose_name="password")),
                ("last_login", models.DateTimeField(blank=True, null=True, verbose_name="last login")),
                (
                    "is_superuser",
                    models.BooleanField(
                        default=False,
                        help_text=(
                            "Designates that this user has all permissions without explicitly assigning them."
                        ),
                        verbose_name="superuser status",
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("email", models.EmailField(max_length=254, unique=True)),
                ("display_name", models.CharField(max_length=80)),
                ("is_active", models.BooleanField(default=True)),
                ("is_staff", models.BooleanField(default=False)),
                ("date_joined", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "groups",
                    models.ManyToManyField(
                        blank=True,
                        help_text=(
                            "The groups this user belongs to. A user will get all permissions "
                            "granted to each of their groups."
                        ),
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.group",
                        verbose_name="groups",
                    ),
                ),
                (
                    "user_permissions",
                    models.ManyToManyField(
                        blank=True,
                        help_text="Specific permissions for this user.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.permission",
                        verbose_name="user permissions",
                    ),
                ),
            ],
            options={
                "ordering": ("display_name", "id"),
            },
        ),
        migrations.CreateModel(
            name="Kitchen",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("name", models.CharField(max_length=80, unique=True)),
                ("slug", models.SlugField(unique=True)),
                (
                    "site_code",
                    models.CharField(
                        max_length=4,
                        unique=True,
                        validators=[
                            django.core.validators.RegexValidator(
                                "^[A-Z0-9]{2,4}$", "Two to four capitals or digits."
                            )
                        ],
                    ),
                ),
                ("altitude_ft", models.PositiveIntegerField()),
                ("time_zone", models.CharField(max_length=40)),
                ("canners_per_person", models.PositiveSmallIntegerField(default=2)),
                ("fill_wait_limit_minutes", models.PositiveSmallIntegerField(default=20)),
                ("cool_down_minutes", models.PositiveSmallIntegerField(default=40)),
                ("share_under_longest", models.BooleanField(default=False)),
                ("cleaning_minutes", models.PositiveSmallIntegerField(default=15)),
                ("cooling_hold_hours", models.PositiveSmallIntegerField(default=24)),
                ("meat_cut_off", models.TimeField(blank=True, null=True)),
                ("loading_minutes", models.PositiveSmallIntegerField(default=5)),
                ("unloading_minutes", models.PositiveSmallIntegerField(default=5)),
                ("prep_hands", models.PositiveSmallIntegerField(default=2)),
                ("fill_hands", models.PositiveSmallIntegerField(default=2)),
            ],
            options={
                "ordering": ("name",),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("altitude_ft__lte", 8000)),
                        name="kitchen_altitude_within_the_tables",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("canners_per_person__range", (1, 6))),
                        name="kitchen_canners_per_person",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("fill_wait_limit_minutes__range", (1, 60))),
                        name="kitchen_fill_wait_limit",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("cool_down_minutes__range", (20, 240))), name="kitchen_cool_down"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("cleaning_minutes__range", (1, 240))), name="kitchen_cleaning"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("cooling_hold_hours__range", (12, 24))),
                        name="kitchen_cooling_hold",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("loading_minutes__range", (1, 60))), name="kitchen_loading"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("unloading_minutes__range", (1, 60))), name="kitchen_unloading"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("prep_hands__range", (1, 12))), name="kitchen_prep_hands"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("fill_hands__range", (1, 6))), name="kitchen_fill_hands"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ConfirmedProcess",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("process_key", models.CharField(max_length=120)),
                ("publication", models.CharField(max_length=200)),
                ("confirmed_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "confirmed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "kitchen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="confirmed_processes",
                        to="members.kitchen",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "confirmed processes",
                "ordering": ("kitchen", "process_key"),
            },
        ),
        migrations.CreateModel(
            name="Membership",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                (
                    "role",
                    models.CharField(
                        choices=[("lead", "Lead"), ("operator", "Canner operator"), ("member", "Member")],
                        default="member",
                        max_length=10,
                    ),
                ),
                ("under_16", models.BooleanField(default=False)),
                ("joined_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("left_at", models.DateTimeField(blank=True, null=True)),
                (
                    "kitchen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="memberships",
                        to="members.kitchen",
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="memberships",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("kitchen", "user__display_name"),
            },
        ),
        migrations.CreateModel(
            name="CannerTraining",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("trained_on", models.DateField()),
                ("expires_on", models.DateField(blank=True, null=True)),
                ("trained_by", models.CharField(max_length=80)),
                (
                    "membership",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="trainings",
                        to="members.membership",
                    ),
                ),
            ],
            options={
                "ordering": ("membership", "-trained_on"),
            },
        ),
        migrations.CreateModel(
            name="OpeningHours",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("weekday", models.PositiveSmallIntegerField()),
                ("opens", models.TimeField()),
                ("closes", models.TimeField()),
                (
                    "kitchen",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="opening_hours",
                        to="members.kitchen",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "opening hours",
                "ordering": ("kitchen", "weekday", "opens"),
            },
        ),
        migrations.AddConstraint(
            model_name="user",
            constraint=models.CheckConstraint(
                condition=models.Q(("email", django.db.models.functions.text.Lower("email"))),
                name="user_email_lower_case",
            ),
        ),
        migrations.AddConstraint(
            model_name="confirmedprocess",
            constraint=models.UniqueConstraint(
                fields=("kitchen", "process_key"), name="confirmed_process_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="membership",
            constraint=models.UniqueConstraint(fields=("kitchen", "user"), name="membership_once"),
        ),
        migrations.AddConstraint(
            model_name="membership",
            constraint=models.CheckConstraint(
                condition=models.Q(("role__in", ["lead", "operator", "member"])), name="membership_role"
            ),
        ),
        migrations.AddConstraint(
            model_name="cannertraining",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("expires_on__isnull", True), ("expires_on__gt", models.F("trained_on")), _connector="OR"
                ),
                name="training_expires_later",
            ),
        ),
        migrations.AddConstraint(
            model_name="openinghours",
            constraint=models.CheckConstraint(
                condition=models.Q(("weekday__range", (0, 6))), name="opening_hours_weekday"
            ),
        ),
        migrations.AddConstraint(
            model_name="openinghours",
            constraint=models.CheckConstraint(
                condition=models.Q(("closes__gt", models.F("opens"))),
                name="opening_hours_close_after_opening",
            ),
        ),
        migrations.AddConstraint(
            model_name="openinghours",
            constraint=models.UniqueConstraint(
                fields=("kitchen", "weekday", "opens"), name="opening_hours_once"
            ),
        ),
    ]
