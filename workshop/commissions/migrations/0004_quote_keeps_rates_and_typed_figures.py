from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("commissions", "0003_wrong_addresses"),
    ]

    operations = [
        migrations.AddField(
            model_name="quote",
            name="rates",
            field=models.JSONField(
                blank=True,
                default=list,
                help_text="The lines of the tariff as they were when it was quoted.",
            ),
        ),
        migrations.AddField(
            model_name="quoteline",
            name="typed",
            field=models.JSONField(
                blank=True,
                default=dict,
                help_text="Figures typed over what was worked out, by the name of the column.",
            ),
        ),
    ]
