"""Papers issued by several hands at once, and by hands that are killed while they issue: no gap, and every paper whole.

Real threads on either engine, and real processes ended by SIGKILL, which no code of theirs can see coming.
"""

import json
import os
import sqlite3
import subprocess
import sys
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import pytest
from django.conf import settings as django_settings
from django.db import connection
from hypothesis import settings as profile

from tests import makers
from tests.laws.test_two_hands_at_once import THREADS, all_at_once
from tests.papers.documents import a_quote, make_document_shop
from workshop.common.models import JournalEntry, Series
from workshop.gems.card_actions import issue_card
from workshop.papers import actions, checking, keys, sealing
from workshop.papers.kinds import SERIES
from workshop.papers.models import Paper, PaperFile, PaperKey, PaperKind

pytestmark = pytest.mark.django_db(transaction=True)
DEEP = profile().max_examples > 100


@pytest.fixture(autouse=True)
def apart(settings, tmp_path):
    """Keys and locks in a folder of the test's own."""
    settings.WORKSHOP_DATA = tmp_path / "data"
    settings.WORKSHOP_DATA.mkdir()


def check_numbers():
    for kind, prefix in SERIES.items():
        taken = sorted(Paper.objects.filter(kind=kind).values_list("number", flat=True))
        assert taken == [f"{prefix}-{n:04d}" for n in range(1, len(taken) + 1)]
        assert (Series.objects.filter(prefix=prefix).values_list("last", flat=True).first() or 0) == len(
            taken
        )


def check_papers():
    """Every paper has record, signature and line in the journal; every file is whole and says the same."""
    check_numbers()
    for paper in Paper.objects.select_related("key").prefetch_related("files"):
        assert actions.faults(paper) == []
        assert keys.verifies(paper.key.public, paper.content.encode(), paper.signature)
        assert json.loads(paper.content)["number"] == paper.number
        noted = JournalEntry.objects.filter(about=paper.about, verb__startswith="issue ")
        assert sum(line.after["paper"] == paper.number for line in noted) == 1
        for kept in paper.files.all():
            assert checking.judge(bytes(kept.pdf), paper).good
            assert sealing.read(bytes(kept.pdf)).faults == ()
    assert not PaperFile.objects.exclude(paper__in=Paper.objects.all()).exists()


# --- Threads ----------------------------------------------------------------------------------------------------------


def test_papers_of_several_kinds_issued_at_once_have_no_gap():
    shop = make_document_shop()
    kinds = [PaperKind.QUOTE, PaperKind.HANDING_OVER, PaperKind.INVOICE]

    def some(n):
        content = a_quote(shop, reference=f"by thread {n}").content()
        made = [
            actions.issue(kinds[(n + k) % 3], f"C-{n:04d}", content, by=None, at=makers.NOON)
            for k in range(4)
        ]
        if n % 4 == 0:
            actions.issue(kinds[0], f"C-{n:04d}", {"weight": 1.5}, by=None, at=makers.NOON)
        return made

    broken = []

    def run(n):
        try:
            return some(n)
        except TypeError as error:
            # A float in a record: refused after its number was taken, which has to go back.
            broken.append(error)
            return None

    _, refused = all_at_once(run)
    assert not refused and len(broken) == THREADS // 4
    assert Paper.objects.count() == 4 * THREADS
    check_papers()
    assert PaperKey.objects.count() == 1, "the first papers of many threads made one key"


def test_one_gem_gets_one_card_however_many_ask():
    make_document_shop()
    gem = makers.make_answered_gem()
    done, refused = all_at_once(lambda _: issue_card(gem, by=None, at=makers.NOON))
    assert (len(done), len(refused)) == (1, THREADS - 1)
    check_papers()


def test_one_paper_is_revised_or_voided_once_however_many_ask():
    shop = make_document_shop()
    content = a_quote(shop).content()
    paper = actions.issue(PaperKind.QUOTE, "C-0001", content, by=None, at=makers.NOON)

    def deed(n):
        if n % 2:
            return actions.void(paper, reason="a slip", by=None, at=makers.NOON)
        return actions.revise(paper, content, reason="new words", by=None, at=makers.NOON)

    done, refused = all_at_once(deed)
    assert (len(done), len(refused)) == (1, THREADS - 1)
    check_papers()


@pytest.mark.pdf
def test_bytes_asked_for_by_many_at_once_are_one():
    shop = make_document_shop()
    paper = actions.issue(PaperKind.QUOTE, "C-0001", a_quote(shop).content(), by=None, at=makers.NOON)
    done, _ = all_at_once(lambda _: bytes(actions.bytes_of(paper, "a4", at=makers.NOON).pdf), 4)
    assert len(done) == 4 and len(set(done)) == 1 and PaperFile.objects.count() == 1


def test_a_key_changed_while_papers_are_issued_leaves_every_signature_whole():
    shop = make_document_shop()
    content = a_quote(shop).content()

    def deed(n):
        if n % 4 == 0:
            return actions.change_key(reason="a new year", by=None, at=makers.NOON)
        return [actions.issue(PaperKind.QUOTE, "C-0001", content, by=None, at=makers.NOON) for _ in range(3)]

    _, refused = all_at_once(deed)
    assert not refused
    check_papers()
    assert {row.public for row in PaperKey.objects.all()} >= {
        paper.key.public for paper in Paper.objects.select_related("key")
    }


# --- Killed -----------------------------------------------------------------------------------------------------------


@pytest.fixture
def killed(settings):
    """Run ``papers_killed.py`` against a copy of this test's shop, or on PostgreSQL against its own database."""
    make_document_shop()
    data = settings.WORKSHOP_DATA
    environment = os.environ | {"WORKSHOP_DATA": str(data), "DJANGO_SETTINGS_MODULE": "workshop.settings"}
    if connection.vendor == "sqlite":
        source = connection.settings_dict["NAME"]
        connection.close()
        with sqlite3.connect(source) as ours, sqlite3.connect(data / "shop.sqlite3") as theirs:
            ours.backup(theirs)
    else:
        parts = urlsplit(os.environ["DATABASE_URL"])
        name = connection.settings_dict["NAME"]
        environment["DATABASE_URL"] = urlunsplit(parts._replace(path=f"/{name}"))

    def run(seed, times):
        program = Path(__file__).with_name("papers_killed.py")
        done = subprocess.run(
            [sys.executable, "-W", "ignore", str(program), seed, str(times)],
            env=environment | {"PYTHONPATH": str(django_settings.BASE_DIR)},
            cwd=data, capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr
        assert done.stderr == ""
        if connection.vendor == "sqlite":
            _take_over(data / "shop.sqlite3")

    return run


def _take_over(file):
    """What the killed processes left, as this test's own database: the write-ahead log is played back by opening it."""
    with sqlite3.connect(file) as theirs:
        assert theirs.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert theirs.execute("PRAGMA foreign_key_check").fetchall() == []
        connection.ensure_connection()
        theirs.backup(connection.connection)
    connection.close()


@pytest.mark.pdf
def test_whoever_is_killed_while_issuing_leaves_no_gap_and_no_half_paper(killed):
    """SIGKILL at random moments, two processes at once, again and again on the same shop; then the shop goes on."""
    killed("seed 7", 60 if DEEP else 8)
    assert Paper.objects.count() > 8, "they were killed before they issued anything"
    assert not Paper.objects.filter(issued_at__isnull=True).exists()
    check_papers()
    before = Paper.objects.filter(kind=PaperKind.QUOTE).count()
    fresh = actions.issue(
        PaperKind.QUOTE, "C-1", {"title": "after", "language": "en"}, by=None, at=makers.NOON
    )
    assert fresh.number == f"QU-{before + 1:04d}"
    check_papers()
    standing = Paper.objects.filter(kind=PaperKind.INVOICE).first()
    assert checking.judge(bytes(actions.bytes_of(standing, "a4", at=makers.NOON).pdf), standing).good
