"""The database refuses to change what an issued paper says, its bytes, or to delete either."""

from django.db import migrations

from workshop.common.triggers import refuse

FROZEN = (
    "number",
    "kind",
    "about",
    "content",
    "content_sha256",
    "check_code",
    "issued_at",
    "issued_by_id",
    "supersedes_id",
    "revision_reason",
)
CHANGED = " OR ".join(f"OLD.{column} IS DISTINCT FROM NEW.{column}" for column in FROZEN)
VOIDED = "(OLD.voided_at IS NOT NULL AND (OLD.voided_at IS DISTINCT FROM NEW.voided_at OR OLD.void_reason IS DISTINCT FROM NEW.void_reason))"


class Migration(migrations.Migration):
    dependencies = [("papers", "0001_initial")]
    operations = [
        refuse(
            "papers_paper",
            "UPDATE",
            "papers_paper_frozen",
            "an issued paper never changes",
            f"{CHANGED} OR {VOIDED}",
        ),
        refuse("papers_paper", "DELETE", "papers_paper_no_delete", "an issued paper is never deleted"),
        refuse("papers_paperfile", "UPDATE", "papers_file_frozen", "the bytes of a paper never change"),
        refuse(
            "papers_paperfile", "DELETE", "papers_file_no_delete", "the bytes of a paper are never deleted"
        ),
    ]
