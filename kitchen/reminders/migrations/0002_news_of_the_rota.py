import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("members", "0004_food_training"),
        ("planning", "0003_rest_of_day"),
        ("reminders", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name="reminder",
            name="reminder_kind",
        ),
        migrations.AddField(
            model_name="reminder",
            name="news",
            field=models.JSONField(blank=True, default=dict),
        ),
        migrations.AlterField(
            model_name="reminder",
            name="jars_out_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AlterField(
            model_name="reminder",
            name="kind",
            field=models.CharField(
                choices=[
                    ("first_call", "First call: the seals may be tested"),
                    ("seal_check", "Seal check: the seals must be tested now"),
                    ("rota", "Rota: a shift has changed"),
                ],
                max_length=20,
            ),
        ),
        migrations.AlterField(
            model_name="reminder",
            name="portion",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="reminders",
                to="planning.loadportion",
            ),
        ),
        migrations.AddConstraint(
            model_name="reminder",
            constraint=models.CheckConstraint(
                condition=models.Q(("kind__in", ["first_call", "seal_check", "rota"])), name="reminder_kind"
            ),
        ),
        migrations.AddConstraint(
            model_name="reminder",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("jars_out_at__isnull", True), ("kind", "rota"), ("portion__isnull", True)),
                    models.Q(
                        models.Q(("kind", "rota"), _negated=True),
                        ("jars_out_at__isnull", False),
                        ("portion__isnull", False),
                    ),
                    _connector="OR",
                ),
                name="reminder_of_jars_or_of_the_rota",
            ),
        ),
    ]
