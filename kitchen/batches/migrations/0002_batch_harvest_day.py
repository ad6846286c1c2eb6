import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("batches", "0001_initial"),
        ("planning", "0001_initial"),
    ]

    operations = [
        migrations.AddField(
            model_name="batch",
            name="harvest_day",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="batches",
                to="planning.harvestday",
            ),
        ),
    ]
