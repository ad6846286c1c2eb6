import django.db.models.deletion
from django.apps.registry import Apps as StateApps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.models import CharField, F, Value
from django.db.models.functions import Cast, Concat


def name_loads(apps: StateApps, _: BaseDatabaseSchemaEditor) -> None:
    """Loads published so far carry the name that their plan gave them: the canner and the number."""
    apps.get_model("planning", "Load").objects.update(
        plan_key=Concat(Cast(F("canner_id"), CharField()), Value("-"), Cast(F("number"), CharField()))
    )


class Migration(migrations.Migration):
    dependencies = [
        ("planning", "0002_what_if"),
    ]

    operations = [
        migrations.AddField(
            model_name="load",
            name="plan_key",
            field=models.CharField(blank=True, max_length=60),
        ),
        migrations.RunPython(name_loads, migrations.RunPython.noop),
        migrations.AddField(
            model_name="planjob",
            name="floor_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="planjob",
            name="follows",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="followed_by",
                to="planning.planjob",
            ),
        ),
        migrations.AddConstraint(
            model_name="planjob",
            constraint=models.CheckConstraint(
                condition=models.Q(("floor_at__isnull", True), ("follows__isnull", True))
                | models.Q(("floor_at__isnull", False), ("follows__isnull", False)),
                name="plan_job_follows_from_a_floor",
            ),
        ),
    ]
