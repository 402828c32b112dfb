"""Issuing a paper: its number, its record, its check code; and that nothing of it can be changed afterwards."""

import json
import threading
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction

from tests.makers import NOON, make_shop
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry, Series
from workshop.common.tx import write_tx
from workshop.papers import actions, rendering
from workshop.papers.models import Paper, PaperFile, PaperKind
from workshop.papers.record import canonical, plain, sha256_of

pytestmark = pytest.mark.django_db

SAID = {"name_line": "Tourmaline", "facts": []}


@pytest.fixture(autouse=True)
def shop(request):
    request.getfixturevalue("transactional_db" if "transactional_db" in request.fixturenames else "db")
    return make_shop(base_url="https://cards.example")


def issue(content=SAID, about="G-0001", **said):
    return actions.issue(PaperKind.INFO_CARD, about, dict(content), by=None, at=NOON, **said)


# --- Numbers ----------------------------------------------------------------------------------------------------------


def test_numbers_run_without_a_gap():
    assert [issue().number for _ in range(3)] == ["IC-0001", "IC-0002", "IC-0003"]


def test_a_paper_that_is_refused_gives_its_number_back():
    """Directive 2006/112/EC art. 226 asks of invoices a sequence; the house keeps it for every paper."""
    issue()
    with pytest.raises(TypeError):
        issue({"weight": Decimal("1.1")})

    def issue_and_fail():
        with write_tx():
            issue()
            raise DeedRefused("something after it went wrong")

    with pytest.raises(DeedRefused):
        issue_and_fail()
    assert issue().number == "IC-0002"
    assert Series.objects.get(prefix="IC").last == 2


def test_a_crash_between_number_and_row_leaves_neither(monkeypatch):
    def crash(*args, **kwargs):
        raise RuntimeError("the machine went down")

    with monkeypatch.context() as patched:
        patched.setattr(actions.journal, "note", crash)
        with pytest.raises(RuntimeError):
            issue()
    assert not Paper.objects.exists() and not Series.objects.filter(prefix="IC").exists()
    assert issue().number == "IC-0001"


@pytest.mark.django_db(transaction=True)
def test_two_hands_at_once_take_two_numbers():
    faults = []

    def some():
        try:
            for _ in range(5):
                issue()
        except Exception as error:
            faults.append(error)
        finally:
            connection.close()

    hands = [threading.Thread(target=some) for _ in range(3)]
    [hand.start() for hand in hands]
    [hand.join() for hand in hands]
    assert not faults
    assert sorted(Paper.objects.values_list("number", flat=True)) == [f"IC-{n:04d}" for n in range(1, 16)]


# --- The record -------------------------------------------------------------------------------------------------------


def test_the_record_carries_number_day_and_check_address():
    paper = issue()
    said = json.loads(paper.content)
    assert said["number"] == "IC-0001" and said["issued_on"] == "2026-03-02"
    assert said["check_url"] == f"https://cards.example/papers/check/{paper.check_code}/"
    assert said["sizes"] == ["id1", "a6"] and said["kind"] == "info_card" and said["about"] == "G-0001"
    assert paper.content_sha256 == sha256_of(paper.content)


def test_the_day_is_the_shops_day(shop):
    shop.zone = "Pacific/Auckland"
    shop.save()
    assert json.loads(issue().content)["issued_on"] == "2026-03-03", "noon UTC is past midnight there"


def test_check_codes_hold_128_bits_and_never_repeat():
    codes = {issue().check_code for _ in range(20)}
    assert len(codes) == 20 and {len(code) for code in codes} == {22}, "16 bytes in base64 without padding"


def test_issuing_leaves_a_journal_line():
    paper = issue()
    line = JournalEntry.objects.get(about="G-0001")
    assert line.verb == "issue stone information card"
    assert line.after == {"paper": "IC-0001", "sha256": paper.content_sha256}


def test_without_any_address_for_the_check_page_nothing_is_issued(shop):
    shop.base_url = ""
    shop.save()
    with pytest.raises(DeedRefused, match="where a buyer reaches"):
        issue()
    assert issue(base_url="http://127.0.0.1:8000").number == "IC-0001"


def test_an_address_too_long_for_a_telephone_is_refused(shop):
    """Modules below 0.33 mm on a 20 mm code; common practice, no source."""
    shop.base_url = "https://" + "a" * 180 + ".example"
    shop.save()
    with pytest.raises(DeedRefused, match="too long"):
        issue()


def test_one_content_has_one_spelling():
    assert canonical({"b": 1, "a": ["ü", None, True]}) == '{"a":["ü",null,true],"b":1}'
    assert canonical({"a": 1, "b": 2}) == canonical({"b": 2, "a": 1})


@pytest.mark.parametrize("value", [1.5, Decimal("1.5"), {1: "a"}, ("a",), b"a", NOON])
def test_what_json_does_not_know_is_refused(value):
    with pytest.raises(TypeError):
        canonical({"a": value})


def test_marks_that_turn_the_reading_direction_are_taken_out():
    """Unicode TR 36: a right-to-left override shows other words than the text holds."""
    assert plain({"a": ["x\u202egnp.exe\u202c", "one\ntwo\x00"]}) == {"a": ["xgnp.exe", "one two"]}
    assert "\u202e" not in issue(SAID | {"name_line": "a\u202eb"}).content


# --- Frozen -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "field", ["number", "content", "content_sha256", "check_code", "about", "revision_reason"]
)
def test_the_model_refuses_a_change(field):
    paper = issue()
    setattr(paper, field, "x")
    with pytest.raises(ValidationError):
        paper.save()
    with pytest.raises(ValidationError):
        paper.save(update_fields=[field])
    with pytest.raises(ValidationError):
        paper.delete()


@pytest.mark.parametrize(
    "field", ["number", "content", "content_sha256", "check_code", "about", "revision_reason"]
)
def test_the_database_refuses_a_change_too(field):
    paper = issue()
    with pytest.raises(IntegrityError), transaction.atomic():
        Paper.objects.filter(pk=paper.pk).update(**{field: "x"})
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"UPDATE papers_paper SET {field} = 'x' WHERE id = %s", [paper.pk])
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM papers_paper WHERE id = %s", [paper.pk])


def test_the_database_refuses_to_change_or_delete_bytes():
    kept = PaperFile.objects.create(
        paper=issue(), size="id1", pdf=b"%PDF", sha256=sha256_of(b"%PDF"), rendered_at=NOON
    )
    with pytest.raises(IntegrityError), transaction.atomic():
        PaperFile.objects.filter(pk=kept.pk).update(pdf=b"%PDX")
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM papers_paperfile")
    with pytest.raises(ValidationError):
        kept.save()
    with pytest.raises(ValidationError):
        kept.delete()


def test_one_size_has_one_row_of_bytes():
    paper = issue()
    row = {"paper": paper, "size": "id1", "pdf": b"1", "sha256": "0" * 64, "rendered_at": NOON}
    PaperFile.objects.create(**row)
    with pytest.raises(IntegrityError), transaction.atomic():
        PaperFile.objects.create(**row)


def test_a_void_is_not_taken_back_nor_its_reason_changed():
    paper = actions.void(issue(), reason="wrong species", by=None, at=NOON)
    with pytest.raises(IntegrityError), transaction.atomic():
        Paper.objects.filter(pk=paper.pk).update(voided_at=None)
    with pytest.raises(IntegrityError), transaction.atomic():
        Paper.objects.filter(pk=paper.pk).update(void_reason="nothing happened")


# --- Damage -----------------------------------------------------------------------------------------------------------


def damage(sql, *values):
    """Change what the triggers keep, as a damaged disk or somebody with the file in hand would."""
    with connection.cursor() as cursor:
        for table in ("papers_paper", "papers_paperfile"):
            name = {"papers_paper": "papers_paper_frozen", "papers_paperfile": "papers_file_frozen"}[table]
            on = f" ON {table}" if connection.vendor == "postgresql" else ""
            cursor.execute(f"DROP TRIGGER {name}{on}")
        cursor.execute(sql, values)


def test_an_untouched_paper_has_no_faults():
    assert actions.faults(issue()) == []


def test_one_changed_letter_in_the_record_is_caught():
    paper = issue()
    damage(
        "UPDATE papers_paper SET content = REPLACE(content, 'Tourmaline', 'Tourmalinf') WHERE id = %s",
        paper.pk,
    )
    paper.refresh_from_db()
    assert actions.faults(paper) == [
        f"The record of {paper.number} is not the one that was issued.",
        f"The signature of {paper.number} does not hold.",
    ]
    with pytest.raises(rendering.PaperDamaged):
        actions.bytes_of(paper, "id1", at=NOON)


def test_a_record_moved_to_another_number_is_caught():
    first, second = issue(), issue()
    damage(
        "UPDATE papers_paper SET content = %s, content_sha256 = %s WHERE id = %s",
        first.content, first.content_sha256, second.pk,
    )  # fmt: skip
    second.refresh_from_db()
    assert "speaks of IC-0001" in actions.faults(second)[0]


def test_one_flipped_bit_in_the_bytes_is_caught():
    paper = issue()
    data = b"%PDF-1.7 all that was issued"
    kept = PaperFile.objects.create(
        paper=paper, size="id1", pdf=data, sha256=sha256_of(data), rendered_at=NOON
    )
    flipped = bytes([data[0], data[1] ^ 1, *data[2:]])
    damage("UPDATE papers_paperfile SET pdf = %s WHERE id = %s", flipped, kept.pk)
    assert actions.faults(Paper.objects.get()) == ["The PDF in size id1 is not the one that was issued."]
    with pytest.raises(rendering.PaperDamaged, match="PDF of IC-0001"):
        actions.bytes_of(paper, "id1", at=NOON)


# --- Void and revise --------------------------------------------------------------------------------------------------


def test_voiding_wants_a_reason_and_happens_once():
    paper = issue()
    with pytest.raises(DeedRefused) as refusal:
        actions.void(paper, reason="  ", by=None, at=NOON)
    assert refusal.value.field == "reason"
    actions.void(paper, reason="wrong species", by=None, at=NOON)
    with pytest.raises(DeedRefused, match="voided already: wrong species"):
        actions.void(paper, reason="again", by=None, at=NOON)
    assert JournalEntry.objects.filter(verb="void paper", reason="wrong species").count() == 1


def test_a_revision_supersedes_once_and_only_what_stands():
    old = issue(sizes=["a6"])
    new = actions.revise(old, dict(SAID), reason="new weight", by=None, at=NOON)
    assert new.supersedes == old and json.loads(new.content)["sizes"] == ["a6"]
    with pytest.raises(DeedRefused, match="superseded by IC-0002"):
        actions.revise(old, dict(SAID), reason="once more", by=None, at=NOON)
    actions.void(new, reason="gone", by=None, at=NOON)
    with pytest.raises(DeedRefused, match="voided already"):
        actions.revise(new, dict(SAID), reason="once more", by=None, at=NOON)
    assert Series.objects.get(prefix="IC").last == 2


def test_a_size_that_was_not_issued_is_refused():
    with pytest.raises(DeedRefused, match="not issued in the size"):
        actions.bytes_of(issue(sizes=["a6"]), "id1", at=NOON)


def test_states_of_a_list():
    standing, voided, old = issue(), issue(), issue()
    actions.void(voided, reason="gone", by=None, at=NOON)
    new = actions.revise(old, dict(SAID), reason="new weight", by=None, at=NOON)
    assert set(Paper.objects.standing()) == {standing, new}
    assert list(Paper.objects.in_state("void")) == [voided]
    assert list(Paper.objects.in_state("superseded")) == [Paper.objects.get(pk=old.pk)]
    words = {paper.number: (paper.state_word, paper.state_tone) for paper in Paper.objects.all()}
    assert words["IC-0002"] == ("void", "alert") and words["IC-0003"] == ("superseded", "quiet")
