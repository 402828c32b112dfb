"""A paper is checked years later: on its page, by its file, without the shop's server, and from plain files."""

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction
from django.urls import reverse

from tests import makers
from tests.makers import NOON, make_answered_gem, make_shop
from workshop.gems import card_actions
from workshop.papers import actions, checking, keys, sealing
from workshop.papers.models import Paper, PaperKey

pytestmark = pytest.mark.django_db
pdf = pytest.mark.pdf


@pytest.fixture(autouse=True)
def apart(settings, tmp_path, db):
    """A data folder of the test's own: a key is a file."""
    settings.WORKSHOP_DATA = tmp_path
    make_shop(name="Wren & Alder", base_url="https://cards.example")


@pytest.fixture
def paper():
    return card_actions.issue_card(make_answered_gem(), by=makers.somebody(), at=NOON)


def bytes_of(paper, size="a6"):
    return bytes(actions.bytes_of(paper, size, at=NOON).pdf)


def handed_in(data, name="card.pdf"):
    return {"file": SimpleUploadedFile(name, data, content_type="application/pdf")}


# --- The signature ----------------------------------------------------------------------------------------------------


def test_a_paper_is_signed_as_it_is_issued(paper):
    assert paper.key.public == keys.current().public
    assert keys.verifies(paper.key.public, paper.content.encode(), paper.signature)
    assert actions.faults(paper) == []
    assert "the signature holds" in checking.signature_words(paper)


@pytest.mark.parametrize("column", ["signature", "key_id"])
def test_the_database_refuses_to_change_it(paper, column):
    other = PaperKey.objects.create(public="0" * 64, since=NOON)
    value = "0" * 128 if column == "signature" else other.pk
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"UPDATE papers_paper SET {column} = %s WHERE id = %s", [value, paper.pk])


def test_a_paper_from_before_signing_says_so(paper):
    paper.key, paper.signature = None, ""
    assert checking.signature_words(paper) == "It was issued before this shop signed its papers."


def test_no_paper_without_a_readable_key_and_no_number_is_lost(settings, paper):
    (settings.WORKSHOP_DATA / "keys" / "papers.pem").write_text("spilt coffee")
    with pytest.raises(keys.KeyDamaged):
        card_actions.issue_card(make_answered_gem(), by=makers.somebody(), at=NOON)
    (settings.WORKSHOP_DATA / "keys" / "papers.pem").unlink()
    next_one = card_actions.issue_card(make_answered_gem(), by=makers.somebody(), at=NOON)
    assert (paper.number, next_one.number) == ("IC-0001", "IC-0002")


@pdf
def test_a_changed_key_leaves_older_papers_valid(paper):
    before = bytes_of(paper, "id1")
    actions.change_key(reason="the laptop was stolen", by=makers.somebody(), at=NOON)
    newer = card_actions.issue_card(make_answered_gem(), by=makers.somebody(), at=NOON)
    assert newer.key.public != paper.key.public
    assert checking.judge(before).good
    # Drawn only now, and still sealed by the key it was signed with.
    assert sealing.read(bytes_of(paper, "a6")).public == paper.key.public
    assert checking.judge(bytes_of(newer)).good
    old = PaperKey.objects.get(public=paper.key.public)
    assert (old.until, old.why) == (NOON, "the laptop was stolen")


@pdf
def test_a_lost_key_file_is_no_lost_paper(settings, paper):
    for path in (settings.WORKSHOP_DATA / "keys").iterdir():
        path.unlink()
    reading = sealing.read(bytes_of(paper))
    assert reading.faults == ()
    assert reading.public == keys.current().public != paper.key.public


# --- A file handed in -------------------------------------------------------------------------------------------------


@pdf
def test_the_very_file_is_recognised(client, paper):
    answer = client.post(reverse("papers:check", args=[paper.check_code]), handed_in(bytes_of(paper)))
    assert f"This file is {paper.number}, to the last bit as it was issued." in answer.content.decode()


@pdf
@pytest.mark.parametrize("part", [0.1, 0.5, 0.9])
def test_a_flipped_bit_is_caught(client, paper, part):
    data = bytearray(bytes_of(paper))
    data[int(len(data) * part)] ^= 1
    assert not checking.judge(bytes(data), paper).good


@pdf
def test_a_file_of_another_paper_is_named(paper):
    other = card_actions.issue_card(make_answered_gem(), by=makers.somebody(), at=NOON)
    verdict = checking.judge(bytes_of(other), paper)
    assert not verdict.good
    assert verdict.words == f"This is a file of {other.number}, not of {paper.number}."


@pdf
def test_a_file_made_by_somebody_else_is_known_by_its_key(settings, tmp_path, paper):
    data = bytes_of(paper)
    actions.change_key(reason="trying", by=makers.somebody(), at=NOON)
    stranger = tmp_path / "stranger"
    stranger.mkdir()
    settings.WORKSHOP_DATA = stranger
    record = sealing.read(data).text.replace("Tourmaline", "Padparadscha")
    forger = keys.current()
    from weasyprint import HTML

    document = HTML(string="<html lang=en><title>x</title><p>x").render(pdf_variant="pdf/a-3a")
    signed = sealing.Signed(forger.public, forger.sign(record.encode()))
    document.metadata.attachments = sealing.attachments(record, signed, NOON)
    made = document.write_pdf(pdf_variant="pdf/a-3a", finisher=sealing.leave_readable)
    forged = sealing.seal(made, forger.sign)
    assert sealing.read(forged).faults == ()
    verdict = checking.judge(forged)
    assert not verdict.good
    assert "none of this shop's" in verdict.words


@pytest.mark.parametrize("data", [b"%PDF-1.7\n", b"\x89PNG\r\n", b"<html>", b"\x00" * 3000])
def test_what_is_no_paper_is_told_so(client, paper, data):
    answer = client.post(reverse("papers:check", args=[paper.check_code]), handed_in(data))
    assert answer.status_code == 200
    assert sealing.NOT_OURS in answer.content.decode()


@pytest.mark.parametrize("sent", [{}, {"file": ""}, {"file": "words, no file"}])
def test_nothing_handed_in_is_asked_for(client, paper, sent):
    answer = client.post(reverse("papers:check", args=[paper.check_code]), sent)
    assert answer.status_code == 422


def test_a_stranger_may_hand_in_a_file_and_needs_no_session(client, paper):
    answer = client.get(reverse("papers:check_any"))
    assert answer.status_code == 200
    assert "<script" not in answer.content.decode()
    assert "session" not in answer.cookies


def test_a_number_alone_tells_whether_it_stands_and_nothing_it_says(client, paper):
    answer = client.post(reverse("papers:check_any"), {"number": " ic-0001 "})
    text = answer.content.decode()
    assert "It stands." in text
    assert paper.content_sha256 in text
    assert paper.check_code not in text
    assert "Tourmaline" not in text
    actions.void(paper, reason="the species was another", by=makers.somebody(), at=NOON)
    assert "Void since" in client.post(reverse("papers:check_any"), {"number": "IC-0001"}).content.decode()


@pytest.mark.parametrize("number", ["IC-9999", "x\x00", "🜁", "' OR 1=1 --"])
def test_an_unknown_number_is_told_so(client, number):
    answer = client.post(reverse("papers:check_any"), {"number": number})
    assert answer.status_code in {200, 422}
    assert "It stands." not in answer.content.decode()


# --- Without the shop's server ----------------------------------------------------------------------------------------


@pdf
def test_the_command_checks_a_file_with_the_public_key_alone(
    paper, tmp_path, capsys, django_assert_num_queries
):
    file = tmp_path / "card.pdf"
    file.write_bytes(bytes_of(paper))
    with django_assert_num_queries(0):
        call_command("check_paper", str(file), "--key", paper.key.public)
    said = capsys.readouterr().out
    assert "IC-0001" in said
    assert keys.fingerprint_of(paper.key.public) in said
    (tmp_path / "public.txt").write_text(paper.key.public.upper() + "\n")
    call_command("check_paper", str(file), "--key", str(tmp_path / "public.txt"))
    call_command("check_paper", str(file))


@pdf
def test_the_command_refuses_what_is_not_whole_or_not_trusted(paper, tmp_path):
    data = bytes_of(paper)
    file = tmp_path / "card.pdf"
    file.write_bytes(data[:-9] + b" " + data[-8:])
    with pytest.raises(CommandError, match=r"changed since it was made|no record"):
        call_command("check_paper", str(file), "--key", paper.key.public)
    file.write_bytes(data)
    with pytest.raises(CommandError, match="which you did not name"):
        call_command("check_paper", str(file), "--key", "0" * 64)
    with pytest.raises(CommandError, match="64 hexadecimal digits"):
        call_command("check_paper", str(file), "--key", "abc")
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("check_paper", str(tmp_path / "none.pdf"))


def test_the_public_key_can_be_given_away(tmp_path, capsys):
    call_command("paper_key", "--write", str(tmp_path / "out.txt"))
    assert (tmp_path / "out.txt").read_text().strip() == keys.current().public
    assert "PRIVATE" not in capsys.readouterr().out


def test_pages_for_a_plain_host_lie_where_the_printed_code_leads(paper, tmp_path, capsys):
    actions.void(paper, reason="the species was another", by=makers.somebody(), at=NOON)
    folder = tmp_path / "site"
    for _ in range(2):  # written again over themselves
        call_command("write_check_pages", str(folder))
    page = folder / reverse("papers:check", args=[paper.check_code]).strip("/") / "index.html"
    text = page.read_text()
    assert "the species was another" in text
    assert paper.content_sha256 in text
    assert "<form" not in text
    assert "<script" not in text
    for link in re.findall(r'(?:href|src)="(\.\./[^"]+)"', text):
        assert (page.parent / link).resolve().is_file(), link
    assert "1 check page" in capsys.readouterr().out
    assert Paper.objects.count() == 1


def test_the_folder_is_never_the_shops_own(settings, tmp_path):
    with pytest.raises(CommandError, match="folder of its own"):
        call_command("write_check_pages", str(settings.WORKSHOP_DATA))
    (tmp_path / "file").write_text("x")
    with pytest.raises(CommandError, match="is a file"):
        call_command("write_check_pages", str(tmp_path / "file"))


# --- The key's page ---------------------------------------------------------------------------------------------------


def test_the_owner_sees_and_changes_the_key(client, paper):
    client.force_login(makers.somebody())
    text = client.get(reverse("papers:key")).content.decode()
    assert paper.key.public in text
    assert "PRIVATE" not in text
    assert client.post(reverse("papers:key"), {"reason": " "}).status_code == 422
    assert client.post(reverse("papers:key"), {"reason": "three years are over"}).status_code == 302
    assert PaperKey.objects.count() == 2
    assert "three years are over" in client.get(reverse("papers:key")).content.decode()
