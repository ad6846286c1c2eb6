"""Let the database refuse every change of a row once written."""

from django.db import migrations

from kitchen.audit.append_only import append_only


class Migration(migrations.Migration):
    dependencies = [("reprocess", "0001_initial")]

    operations = [append_only("reprocess_reprocessbooking")]
