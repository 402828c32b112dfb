"""The handing-over note: what goes back piece by piece, what each stone is on what basis, fields of the sheet of documents.

Fields: section 7.1 of the trade's document sheet (number, date, issuer, client, stone id, nature and species with who
says so, treatment, care, weight by scale, millimetres, declared value, signatures). Wording of what nobody tested:
16 CFR Part 23 (a claim needs a basis).
"""

import io
import json

import pdfplumber
import pytest
from django.urls import reverse

from tests.commissions.deliveries import (
    GOES,
    LATER,
    D,
    accept,
    bring_spinel,
    charge_and_pay,
    finish_spinel,
    make_spinel_commission,
    own_gem_for,
    own_item,
    spinel_item,
    spinel_line,
)
from tests.makers import DAY, NOON, make_commission, make_contact, make_owner, make_shop, say
from workshop.commissions.actions import account, delivery
from workshop.common.errors import PleaseConfirm
from workshop.gems.card_actions import issue_card
from workshop.materials.models import Material
from workshop.papers import actions as papers
from workshop.sales import actions as sales
from workshop.stones import actions as stones

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    make_shop(
        name="Quartz Lane Cutting", base_url="https://cards.example", address="4 Quartz Lane\nPort Ellen"
    )
    return make_owner()


def hand_over(commission, owner, **said):
    said = {"on": GOES, "how": "registered post", "sure": True, **said}
    return delivery.deliver(commission, items=list(commission.items.all()), by=owner, at=LATER, **said)


def record(made):
    return json.loads(made.note.content)


def flat(content):
    return json.dumps(content, ensure_ascii=False).replace("\u00a0", " ")


def block(content, heading):
    return next(one for one in content["blocks"] if one["heading"].startswith(heading))


def rows(content, heading):
    return [[cell.replace("\u00a0", " ") for cell in row] for row in block(content, heading)["rows"]]


def test_it_says_what_goes_back_and_what_it_lost(owner):
    client = make_contact(
        "Mara Quill", firm="Quill & Daughters", address="3 Quay Street\nPort Ellen", is_client=True
    )
    commission, _item, gem = make_spinel_commission(owner, client)
    say(gem.stone, "species", 3, material=Material.objects.get(key="spinel-natural"), how="RI 1.718, SG 3.60")
    made = hand_over(
        commission, owner, tracking="RR 12", declared_value=D("840.10"), insured_by="the client’s own policy",
        condition="One feather near the girdle, as on the condition report.",
    )  # fmt: skip
    content = record(made)
    assert (content["title"], content["reference"]) == ("Handing-over note", "DL-0001, commission C-0001")
    assert content["number"].startswith("HO-") and content["issued_on"] == GOES.isoformat()
    assert content["shop"]["name"] == "Quartz Lane Cutting"
    assert content["parties"] == [
        {
            "label": "Handed over to",
            "lines": ["Mara Quill", "Quill & Daughters", "3 Quay Street", "Port Ellen"],
        }
    ]
    facts = {one["label"]: one["text"].replace("\u00a0", " ") for one in content["facts"]}
    assert facts == {
        "Day": "12 Mar 2026", "How": "registered post", "Tracking": "RR 12", "Declared value": "840.10 EUR",
        "Insured by": "the client’s own policy",
    }  # fmt: skip
    # Scenario 6: 3.46 to 2.71 ct, 0.75 ct = 21.7 %.
    assert rows(content, "What is handed over") == [
        [
            "1",
            f"{gem.code}, oval, purple",
            "8.60 × 7.15 × 5.02 mm",
            "3.460 ct",
            "2.71 ct",
            "0.750 ct (21.7 %)",
        ]
    ]
    agreed = block(content, "Against what was agreed")["rows"]
    assert "inside the 2.595 ct to 2.941 ct" in flat(agreed)
    said = flat(content)
    assert "“a spinel from my aunt”" in said
    assert "One feather near the girdle" in said and "weigh it as soon as it arrives" in said
    assert block(content, "")["kind"] == "signatures" or any(
        one["kind"] == "signatures" and len(one["lines"]) == 2 for one in content["blocks"]
    )


def test_what_nobody_answered_is_said_to_be_untested(owner):
    """A client's own stone goes home whatever is open; but silence claims nothing."""
    commission, _item, gem = make_spinel_commission(owner)
    said = flat(record(hand_over(commission, owner)))
    assert "not tested" in said and "Still open" in said
    assert "nobody has answered the question of" in said
    assert "natural, mined" not in said and "mined, as far as is known" not in said
    assert "none was issued" in said and gem.code in said
    # An untested stone is kept as the most fragile one usual for it.
    assert "Clean:" in said


def test_what_was_answered_is_said_with_its_basis_care_and_card(owner):
    commission = make_commission(items=[own_item()], by=owner, state="in_work")
    gem = own_gem_for(commission.items.get(), owner)
    card = issue_card(gem, by=owner, at=NOON)
    sales.sell(
        [sales.Asked(gem, D(640))],
        buyer=commission.client,
        sold_on=DAY,
        commission=commission,
        by=owner,
        at=LATER,
    )
    content = record(hand_over(commission, owner))
    said = flat(content)
    assert card.number in said and "identified by the cutter by: RI 1.624–1.644, SG 3.06" in said
    assert "heat" in said and "Still open" not in said
    # The shop's own rough is nobody else's business: no weight in, no loss.
    assert [one["label"] for one in block(content, "What is handed over")["columns"]] == [
        "Piece", "Stone", "Size", "Weight out",
    ]  # fmt: skip


def test_a_void_card_is_not_named(owner):
    commission = make_commission(items=[own_item()], by=owner, state="in_work")
    gem = own_gem_for(commission.items.get(), owner)
    papers.void(issue_card(gem, by=owner, at=NOON), reason="a slip", by=owner, at=NOON)
    sales.sell(
        [sales.Asked(gem, D(640))],
        buyer=commission.client,
        sold_on=DAY,
        commission=commission,
        by=owner,
        at=LATER,
    )
    said = flat(record(hand_over(commission, owner)))
    assert "none was issued" in said and "IC-" not in said


def test_nothing_internal_is_in_it(owner):
    commission, _item, gem = make_spinel_commission(owner)
    commission.notes = "haggles"
    commission.save(update_fields=["notes"])
    gem.notes = "nearly lost it"
    gem.save(update_fields=["notes"])
    said = flat(record(hand_over(commission, owner)))
    for hidden in ("haggles", "nearly lost", "45.00", "135.00", "hourly"):
        assert hidden not in said


def test_its_check_page_tells_a_stranger_nothing_of_it(owner, client):
    commission, _item, _gem = make_spinel_commission(owner)
    made = hand_over(commission, owner, declared_value=D("840.10"))
    page = client.get(reverse("papers:check", args=[made.note.check_code]))
    said = page.content.decode()
    assert page.status_code == 200 and made.note.number in said
    for hidden in ("Mara Quill", "840.10", "registered post", "2.71"):
        assert hidden not in said


def test_a_refused_delivery_takes_no_number(owner):
    commission, _item, _gem = make_spinel_commission(owner, charged=False)
    with pytest.raises(PleaseConfirm, match="Nothing is charged"):
        hand_over(commission, owner, sure=False)
    assert record(hand_over(commission, owner))["number"] == "HO-0001"


@pytest.mark.pdf
def test_its_pdf_holds_names_weights_and_a_place_to_sign(owner):
    made = hand_over(*everything(owner)[:2], declared_value=D("1480.10"))
    # 3.46 and 0.90 ct in, 2.71 out, 0.90 back as it came: 0.75 of 4.36 ct is 17.2 %.
    data = bytes(papers.bytes_of(made.note, "a4", at=LATER).pdf)
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        text = " ".join(page.extract_text() for page in pdf.pages)
        assert 1 <= len(pdf.pages) <= 3
    for words in (
        "Handing-over note",
        "Mara Quill",
        "2.71",
        "17.2",
        "1,480.10",
        "Received",
        "Off-cuts",
        "HO-0001",
    ):
        assert words in text.replace("\u00a0", " ")


def everything(owner):
    """An own gem and a client's spinel with an off-cut, all answered, ready to leave."""
    commission = make_commission(
        make_contact("Mara Quill", address="3 Quay Street\nPort Ellen", is_client=True),
        items=[spinel_item(), own_item()], by=owner, state="in_work",
    )  # fmt: skip
    theirs, own = commission.items.order_by("number")
    whole = bring_spinel(commission, theirs, owner, "3.46 ct")
    accept(commission, {theirs: spinel_line()})
    finish_spinel(whole, owner)
    extra = bring_spinel(commission, theirs, owner, "0.90 ct")
    stones.end_stone(extra, "put_by", reason="left over", by=owner, at=NOON)
    charge_and_pay(commission, theirs, owner)
    gem = own_gem_for(own, owner)
    issue_card(gem, by=owner, at=NOON)
    sales.sell(
        [sales.Asked(gem, D(640))],
        buyer=commission.client,
        sold_on=DAY,
        commission=commission,
        by=owner,
        at=LATER,
    )
    account.pay(commission, amount=D(640), on=DAY, by=owner, at=LATER)
    return commission, owner, theirs, own
