"""Which loads are used up, of those that were closed before this was noted."""

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.models import Case, F, IntegerField, OuterRef, Q, Subquery, Sum, Value, When
from django.db.models.functions import Coalesce


def note(apps: Apps, editor: BaseDatabaseSchemaEditor) -> None:
    load, portion, check, move = (
        apps.get_model(*name)
        for name in (
            ("planning", "Load"),
            ("planning", "LoadPortion"),
            ("seals", "SealCheck"),
            ("labels", "ShelfMove"),
        )
    )
    counts = check.objects.filter(portion=OuterRef("pk")).order_by("-pk").values("sealed")
    back = When(kind="put_back", then=-F("jars"))
    gone = Sum(Case(back, default=F("jars"), output_field=IntegerField()))
    moves = move.objects.filter(portion=OuterRef("pk")).order_by().values("portion")
    left = portion.objects.annotate(
        sealed=Subquery(counts[:1]),
        taken=Coalesce(Subquery(moves.annotate(many=gone).values("many")), Value(0)),
    ).filter(Q(sealed__isnull=True) | Q(taken__lt=F("sealed")))
    load.objects.filter(state="closed").exclude(pk__in=left.values("load")).update(used_up=True)


class Migration(migrations.Migration):
    dependencies = [
        ("labels", "0003_ordered_by_own_columns"),
        ("planning", "0007_used_up"),
        ("seals", "0003_ordered_by_own_columns"),
    ]

    operations = [migrations.RunPython(note, migrations.RunPython.noop, elidable=True)]
