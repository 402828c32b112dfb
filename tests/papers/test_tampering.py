"""A flipped bit in record, file or signature is caught, and so is a swap, by the check page, the command and the shop.

Positions are random and many (``--deep``: more). The papers themselves are drawn once, see ``specimens.py``.
"""

import io
import json
import random
import re

import pikepdf
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.db import connection
from django.urls import reverse
from hypothesis import settings

from tests.makers import NOON, make_shop
from tests.papers.specimens import DEEDS, EVERY, IDS, plant
from workshop.common.models import Series
from workshop.papers import actions, checking, keys, rendering, sealing
from workshop.papers.models import Paper, PaperFile, PaperKey, PaperKind
from workshop.papers.record import canonical, sha256_of

pytestmark = [pytest.mark.pdf, pytest.mark.django_db]
every = pytest.mark.parametrize(("kind", "size"), EVERY, ids=IDS)
DEEP = settings().max_examples > 100
FLIPS, STEP = (200, 1) if DEEP else (6, 17)


@pytest.fixture(autouse=True)
def shop(db):
    return make_shop(name="Wren & Alder", base_url="https://cards.example")


def flipped(data, place, bit):
    changed = bytearray(data)
    changed[int(len(data) * place)] ^= 1 << bit
    return bytes(changed)


def asked_on_page(client, paper, data):
    sent = {"file": SimpleUploadedFile("paper.pdf", data, content_type="application/pdf")}
    return client.post(reverse("papers:check", args=[paper.check_code]), sent).content.decode()


def by_command(data, tmp_path, *key):
    """What the command says; it raises CommandError for what is not whole."""
    path = tmp_path / "in.pdf"
    path.write_bytes(data)
    said = io.StringIO()
    call_command("check_paper", str(path), *key, stdout=said)
    return said.getvalue()


GOOD = "to the last bit as it was issued"


# --- The file ---------------------------------------------------------------------------------------------------------


@every
def test_a_whole_file_is_known_everywhere(client, specimens, tmp_path, kind, size):
    """The yes, without which a no says nothing."""
    specimen = specimens[kind]
    paper, data = plant(specimen), specimen.files[size]
    assert GOOD in asked_on_page(client, paper, data)
    assert paper.number in by_command(data, tmp_path, "--key", specimen.public)
    assert actions.faults(paper) == []


@every
def test_a_flipped_bit_anywhere_is_caught(client, specimens, tmp_path, kind, size):
    """By whoever opens the file, by the page and by the command, and without knowing what it should have been."""
    specimen = specimens[kind]
    paper, whole = plant(specimen), specimen.files[size]
    chance = random.Random(f"{kind}{size}")
    for _ in range(FLIPS):
        data = flipped(whole, chance.random(), chance.randrange(8))
        assert sealing.read(data).faults and sealing.stamp(data) is None
    assert not checking.judge(data, paper).good
    assert not checking.judge(data).good
    page = asked_on_page(client, paper, data)
    assert GOOD not in page and "signed and unchanged" not in page
    for key in ((), ("--key", specimen.public)):
        with pytest.raises(CommandError):
            by_command(data, tmp_path, *key)


def test_each_part_of_the_stamp_is_held(specimens):
    """The places that matter most, one by one: each digit of key, hash and both signatures, and what names them."""
    specimen = specimens[PaperKind.INFO_CARD]
    whole = specimen.files["a6"]
    start = whole.index(b'{"algorithm"')
    end = whole.index(b"}", start)
    for place in range(start, end + 1, STEP):
        data = whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :]
        assert sealing.read(data).faults, whole[place - 20 : place + 1]


@pytest.mark.parametrize("kind", DEEDS)
def test_what_is_cut_off_or_added_is_caught(client, specimens, tmp_path, kind):
    specimen = specimens[kind]
    paper = plant(specimen)
    chance = random.Random(kind.value)
    data = specimen.files[specimen.sizes[0]]
    cuts = [data[: chance.randrange(len(data))] for _ in range(2)] + [data[:-1], data[1:]]
    grown = [
        data + b"\n",
        data + bytes(chance.randrange(256) for _ in range(40)),
        data + data,
        data + b'{"file_signature":"' + b"0" * 128 + b'"}',
    ]
    for changed in cuts + grown:
        assert not checking.judge(changed, paper).good
    for changed in (cuts[0], grown[0]):
        with pytest.raises(CommandError):
            by_command(changed, tmp_path, "--key", specimen.public)


def test_a_later_layer_over_the_file_is_caught(specimens, tmp_path):
    """ISO 32000-1, 7.5.6: an incremental update leaves every signed byte in place and shows another page."""
    specimen = specimens[PaperKind.INFO_CARD]
    paper, data = plant(specimen), specimen.files["a6"]
    from pypdf import PdfReader, PdfWriter

    writer = PdfWriter(PdfReader(io.BytesIO(data)), incremental=True)
    writer.pages[0].rotate(90)
    out = io.BytesIO()
    writer.write(out)
    changed = out.getvalue()
    assert changed.startswith(data) and len(changed) > len(data)
    assert "The file was changed since it was made." in sealing.read(changed).faults
    assert not checking.judge(changed, paper).good


# --- Attachments and seals put elsewhere -----------------------------------------------------------------------------


def with_attachments(data, files):
    """The same file with other attachments, as an editor of PDFs would leave it: whole, readable, and no longer ours."""
    with pikepdf.open(io.BytesIO(data)) as pdf:
        for name, text in files.items():
            one = pdf.attachments[name]
            pdf.attachments[name] = pikepdf.AttachedFileSpec(
                pdf, text, filename=name, relationship=pikepdf.Name(str(one.obj.AFRelationship))
            )
        out = io.BytesIO()
        pdf.save(out, compress_streams=False, stream_decode_level=pikepdf.StreamDecodeLevel.generalized)
    return out.getvalue()


def attached(data):
    with pikepdf.open(io.BytesIO(data)) as pdf:
        return {name: one.get_file().read_bytes() for name, one in pdf.attachments.items()}


def test_attachments_swapped_between_two_papers_are_caught(client, specimens, tmp_path):
    card, note = specimens[PaperKind.INFO_CARD], specimens[PaperKind.HANDING_OVER]
    plant(card, note)
    one, other = card.files["a6"], note.files["a4"]
    for face, inside in ((one, other), (other, one)):
        for names in (
            ["record.json"],
            ["signature.json"],
            ["record.json", "signature.json"],
            ["record.json", "record.jsonld", "signature.json"],
        ):
            swapped = with_attachments(face, {name: attached(inside)[name] for name in names})
            reading = sealing.read(swapped)
            assert reading.record is not None, "the swap itself is readable"
            assert reading.faults
            assert not checking.judge(swapped).good
            with pytest.raises(CommandError):
                by_command(swapped, tmp_path, "--key", card.public)
    # Even saved anew with everything of its own, it is not the file that was sealed.
    again = with_attachments(one, attached(one))
    assert sealing.read(again).faults == ("The file was changed since it was made.",)


def resigned(data, key):
    """The record and the file signed by another key, in the places of the shop's own signatures."""
    files = attached(data)
    said = json.loads(files["signature.json"])
    record = files["record.json"]
    old = re.search(rb'"file_signature":"[0-9a-f]{128}"[^}]*}', data)[0]
    new = canonical({
        **said, "public_key": key.public, "record_signature": key.sign(record), "file_signature": sealing.NOUGHTS,
    }).encode()  # fmt: skip
    new = new[new.index(b'"file_signature"') :]
    assert len(old) == len(new) and data.count(old) == 1
    return sealing.seal(data.replace(old, new), key.sign)


def a_stranger():
    private = Ed25519PrivateKey.generate()
    return keys.ShopKey(private, private.public_key().public_bytes_raw().hex())


@every
def test_another_keys_signature_is_known_for_one(client, specimens, tmp_path, kind, size):
    specimen = specimens[kind]
    paper = plant(specimen)
    stranger = a_stranger()
    forged = resigned(specimen.files[size], stranger)
    assert sealing.read(forged).faults == (), "whole, and signed: only the key tells"
    verdict = checking.judge(forged, paper)
    assert not verdict.good
    assert stranger.fingerprint in verdict.words
    assert "none of this shop" in asked_on_page(client, paper, forged)
    for key in ((), ("--key", specimen.public)):
        with pytest.raises(CommandError, match="which you did not name"):
            by_command(forged, tmp_path, *key)


def test_a_strangers_key_under_the_shops_name_is_caught(specimens):
    """The stranger's signatures, with the shop's public key beside them."""
    specimen = specimens[PaperKind.INFO_CARD]
    stranger = a_stranger()
    forged = resigned(specimen.files["a6"], stranger)
    mixed = forged.replace(stranger.public.encode(), specimen.public.encode())
    assert mixed != forged
    assert "The signature over the record does not hold." in sealing.read(mixed).faults


# --- One paper for another --------------------------------------------------------------------------------------------


@pytest.fixture
def revised(specimens):
    """An old paper and the one that took its place, with a file of the old one."""
    specimen = specimens[PaperKind.INFO_CARD]
    old = plant(specimen)
    # The specimen took its number in a life that is undone; the series here begins after it.
    Series.objects.create(prefix="IC", last=int(old.number.rpartition("-")[2]))
    new = actions.revise(old, json.loads(old.content), reason="the weight was read again", by=None, at=NOON)
    return specimen.files["a6"], Paper.objects.get(pk=old.pk), new


def test_an_older_revision_is_not_taken_for_the_newer(client, revised):
    data, old, new = revised
    verdict = checking.judge(data, new)
    assert not verdict.good
    assert verdict.words == f"This is a file of {old.number}, not of {new.number}."
    page = asked_on_page(client, new, data)
    assert f"not of {new.number}" in page


def test_an_older_revision_is_told_to_be_superseded(client, revised):
    data, old, new = revised
    page = asked_on_page(client, old, data)
    assert "Superseded by" in page and new.number in page
    sent = {"file": SimpleUploadedFile("paper.pdf", data)}
    page = client.post(reverse("papers:check_any"), sent).content.decode()
    assert "Superseded by" in page and new.number in page and "the weight was read again" in page


def test_a_void_paper_is_told_to_be_void(client, specimens):
    specimen = specimens[PaperKind.INFO_CARD]
    paper = plant(specimen)
    actions.void(paper, reason="the species was another", by=None, at=NOON)
    sent = {"file": SimpleUploadedFile("paper.pdf", specimen.files["a6"])}
    page = client.post(reverse("papers:check_any"), sent).content.decode()
    assert "Void since" in page and "the species was another" in page


def test_why_a_private_paper_is_void_stays_inside(client, specimens):
    specimen = specimens[PaperKind.QUOTE]
    actions.void(plant(specimen), reason="she moves to Lisbon", by=None, at=NOON)
    sent = {"file": SimpleUploadedFile("paper.pdf", specimen.files["a4"])}
    page = client.post(reverse("papers:check_any"), sent).content.decode()
    assert "Void since" in page and "Lisbon" not in page


# --- What the shop keeps ----------------------------------------------------------------------------------------------


def overwrite(model, pk, **columns):
    """As a damaged disk, or somebody with the file of the database in hand, would: behind the triggers."""
    trigger = {"papers_paper": "papers_paper_frozen", "papers_paperfile": "papers_file_frozen"}[
        model._meta.db_table
    ]
    on = f" ON {model._meta.db_table}" if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER IF EXISTS {trigger}{on}")
    model.objects.filter(pk=pk).update(**columns)


@pytest.mark.parametrize("kind", DEEDS)
def test_a_flipped_bit_in_what_is_kept_is_caught(client, specimens, kind):
    """In record, signature and bytes of a paper, at random places, by the shop itself and on the open page."""
    specimen = specimens[kind]
    chance = random.Random(kind.value)
    paper = plant(specimen)
    page = reverse("papers:check", args=[paper.check_code])
    calm = client.get(page).content.decode()
    for _ in range(6):
        place = chance.randrange(len(paper.content))
        letter = paper.content[place]
        other = chr(ord(letter) ^ 1)
        overwrite(Paper, paper.pk, content=paper.content[:place] + other + paper.content[place + 1 :])
        damaged = Paper.objects.get(pk=paper.pk)
        assert f"The record of {paper.number} is not the one that was issued." in actions.faults(damaged)
        assert f"The signature of {paper.number} does not hold." in actions.faults(damaged)
        with pytest.raises(rendering.PaperDamaged):
            actions.bytes_of(damaged, specimen.sizes[0], at=NOON)
    assert "is not the one that was issued" in client.get(page).content.decode()
    overwrite(Paper, paper.pk, content=paper.content)
    for _ in range(6):
        place = chance.randrange(128)
        digit = format(int(paper.signature[place], 16) ^ (1 << chance.randrange(4)), "x")
        overwrite(Paper, paper.pk, signature=paper.signature[:place] + digit + paper.signature[place + 1 :])
        assert f"The signature of {paper.number} does not hold." in actions.faults(
            Paper.objects.get(pk=paper.pk)
        )
    assert "does not hold" in client.get(page).content.decode()
    overwrite(Paper, paper.pk, signature=paper.signature)
    for kept in PaperFile.objects.filter(paper=paper):
        whole = bytes(kept.pdf)
        overwrite(PaperFile, kept.pk, pdf=flipped(whole, chance.random(), chance.randrange(8)))
        assert actions.faults(Paper.objects.get(pk=paper.pk)) == [
            f"The PDF in size {kept.size} is not the one that was issued."
        ]
        with pytest.raises(rendering.PaperDamaged):
            actions.bytes_of(paper, kept.size, at=NOON)
        overwrite(PaperFile, kept.pk, pdf=whole)
    assert actions.faults(Paper.objects.get(pk=paper.pk)) == []
    assert client.get(page).content.decode().count("alert") == calm.count("alert")


def test_a_record_changed_with_its_hash_is_caught_by_its_signature(specimens):
    """Who has the database and not the key can make the hash fit, and not the signature."""
    specimen = specimens[PaperKind.INFO_CARD]
    paper = plant(specimen)
    changed = paper.content.replace("Tourmaline", "Paraiba")
    assert changed != paper.content
    overwrite(Paper, paper.pk, content=changed, content_sha256=sha256_of(changed))
    found = actions.faults(Paper.objects.get())
    assert f"The signature of {paper.number} does not hold." in found
    assert "The PDF in size a6 is not the one that was issued." in found, "it was sealed with another record"


def test_a_file_changed_with_its_hash_is_caught_by_its_seal(specimens):
    """The same for the bytes: a file put in place of another, with a hash that fits."""
    specimen = specimens[PaperKind.INFO_CARD]
    paper = plant(specimen)
    kept = PaperFile.objects.get(size="a6")
    for data in (
        flipped(specimen.files["a6"], 0.4, 3),
        b"%PDF-1.7 no paper",
        resigned(specimen.files["a6"], a_stranger()),
    ):
        overwrite(PaperFile, kept.pk, pdf=data, sha256=sha256_of(data))
        assert actions.faults(paper) == ["The PDF in size a6 is not the one that was issued."]
        assert not checking.judge(data, paper).good
        with pytest.raises(rendering.PaperDamaged):
            actions.bytes_of(paper, "a6", at=NOON)


def test_files_of_two_papers_changed_about_are_caught(specimens):
    """Each whole, each sealed by the shop, each under the other's number, with its own hash."""
    quote, note = plant(specimens[PaperKind.QUOTE], specimens[PaperKind.HANDING_OVER])
    one, other = PaperFile.objects.get(paper=quote, size="a4"), PaperFile.objects.get(paper=note, size="a4")
    for row, with_this in ((one, other), (other, one)):
        overwrite(PaperFile, row.pk, pdf=bytes(with_this.pdf), sha256=with_this.sha256)
    assert actions.faults(quote) == ["The PDF in size a4 is not the one that was issued."]
    assert actions.faults(note) == ["The PDF in size a4 is not the one that was issued."]
    verdict = checking.judge(specimens[PaperKind.HANDING_OVER].files["a4"], quote)
    assert not verdict.good


def test_a_key_swapped_in_the_database_is_caught(specimens):
    specimen = specimens[PaperKind.INFO_CARD]
    paper = plant(specimen)
    other = PaperKey.objects.create(public=a_stranger().public, since=NOON)
    overwrite(Paper, paper.pk, key=other)
    assert f"The signature of {paper.number} does not hold." in actions.faults(Paper.objects.get())
