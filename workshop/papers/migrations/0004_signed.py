"""Papers carry a signature. Adding columns makes SQLite write the table anew and forget its triggers: they are set again."""

import importlib
from typing import Any

import django.db.models.deletion
from django.db import migrations, models

from workshop.common.triggers import drop, refuse

before = importlib.import_module("workshop.papers.migrations.0002_papers_frozen")
SIGNED = " OR ".join(f"OLD.{column} IS DISTINCT FROM NEW.{column}" for column in ("key_id", "signature"))


def without_triggers(apps: Any, schema_editor: Any) -> None:
    for name in ("papers_paper_frozen", "papers_paper_no_delete"):
        for statement in drop(schema_editor.connection.vendor, "papers_paper", name):
            schema_editor.execute(statement)


class Migration(migrations.Migration):
    dependencies = [("papers", "0003_document_kinds")]
    operations = [
        migrations.RunPython(without_triggers, migrations.RunPython.noop),
        migrations.CreateModel(
            name="PaperKey",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "public",
                    models.CharField(help_text="Ed25519, 64 hexadecimal digits.", max_length=64, unique=True),
                ),
                ("since", models.DateTimeField()),
                (
                    "until",
                    models.DateTimeField(blank=True, help_text="When a new one took its place.", null=True),
                ),
                (
                    "why",
                    models.CharField(blank=True, help_text="Why it was laid aside.", max_length=300),
                ),
            ],
            options={"ordering": ["-pk"]},
        ),
        migrations.AddField(
            model_name="paper",
            name="key",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="papers",
                to="papers.paperkey",
            ),
        ),
        migrations.AddField(
            model_name="paper",
            name="signature",
            field=models.CharField(
                blank=True,
                help_text="Over the content, by that key; 128 hexadecimal digits.",
                max_length=128,
            ),
        ),
        refuse(
            "papers_paper",
            "UPDATE",
            "papers_paper_frozen",
            "an issued paper never changes",
            f"{before.CHANGED} OR {SIGNED} OR {before.VOIDED}",
        ),
        refuse("papers_paper", "DELETE", "papers_paper_no_delete", "an issued paper is never deleted"),
    ]
