"""The database refuses to change or delete a line of the journal."""

from django.db import migrations

from workshop.common.triggers import refuse


class Migration(migrations.Migration):
    dependencies = [("common", "0001_initial")]
    operations = [
        refuse("common_journalentry", "UPDATE", "common_journal_no_update", "the journal is written once"),
        refuse("common_journalentry", "DELETE", "common_journal_no_delete", "the journal is written once"),
    ]
