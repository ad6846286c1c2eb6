"""Which loads are reviewed as they stand, of those whose records were reviewed before this was noted."""

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.models import Exists, OuterRef, Subquery


def note(apps: Apps, editor: BaseDatabaseSchemaEditor) -> None:
    load, line, signature = (
        apps.get_model(*name)
        for name in (("planning", "Load"), ("floor", "RunEvent"), ("records", "RecordSignature"))
    )
    newest = line.objects.filter(load=OuterRef("load")).order_by("-pk").values("pk")
    reviews = signature.objects.filter(
        load=OuterRef("pk"),
        kind="reviewed",
        last_line=Subquery(newest[:1]),
        deviation=OuterRef("deviation"),
    )
    back = signature.objects.filter(load=OuterRef("pk"), kind__in=("reviewed", "sent_back")).order_by("-pk")
    reviewed = load.objects.annotate(last=Subquery(back.values("kind")[:1])).filter(
        Exists(reviews), last="reviewed"
    )
    load.objects.filter(pk__in=reviewed.values("pk")).update(reviewed=True)


class Migration(migrations.Migration):
    dependencies = [
        ("floor", "0005_newest_line"),
        ("planning", "0008_reviewed"),
        ("records", "0003_ordered_by_own_columns"),
    ]

    operations = [migrations.RunPython(note, migrations.RunPython.noop, elidable=True)]
