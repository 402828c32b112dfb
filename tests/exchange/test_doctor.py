"""The doctor finds each fault that is put into a sound shop, and nothing in a sound one."""

from decimal import Decimal

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command

from tests.makers import (
    NOON,
    make_answered_gem,
    make_commission,
    make_gem,
    make_lot,
    make_owner,
    make_shop,
    make_stone,
)
from workshop.commissions.models import Commission
from workshop.common import photos
from workshop.common.models import Photo, Series
from workshop.exchange import doctor
from workshop.gems import card_actions
from workshop.papers.models import PaperFile
from workshop.rough.models import RoughLot
from workshop.sales import actions as sales
from workshop.sales.models import Sale
from workshop.stones.models import BenchTime, DayHours, Stone

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(settings, tmp_path):
    """A sound shop with a bit of everything."""
    settings.WORKSHOP_DATA = tmp_path
    make_shop(base_url="https://cards.example")
    owner = make_owner()
    lot = make_lot("80 ct", by=owner)
    make_stone("4 ct", lot=lot, by=owner)
    make_commission(by=owner)
    card_actions.issue_card(make_answered_gem(), by=owner, at=NOON)
    gem = make_gem(by=owner)
    asked = [sales.Asked(gem, Decimal("100.00"))]
    sales.sell(asked, buyer=make_commission(by=owner).client, sold_on=NOON.date(), by=owner, at=NOON)
    return owner


def told():
    return {name: [one.what for one in found] for name, found in doctor.look_over()}


def test_a_sound_shop_is_called_sound(shop, capsys):
    call_command("doctor")
    assert capsys.readouterr().out.rstrip().endswith("The shop is sound.")
    assert not any(told().values())


def break_stone():
    Stone.objects.filter(code="S-0001").update(weight_ct=Decimal("3.000"))


def break_lot():
    RoughLot.objects.filter(code="L-0001").update(left_ct=Decimal("1.000"))


def break_money():
    RoughLot.objects.filter(code="L-0001").update(landed_cost=Decimal("1.00"))


def break_numbers():
    Series.objects.filter(prefix="S").update(last=99)


def break_beyond():
    Series.objects.filter(prefix="G").update(last=0)


def break_hours():
    DayHours.objects.create(
        day=NOON.date(), hand=BenchTime._meta.get_field("hand").related_model.objects.first(), activity="plan",
        on_bench=True, rework=False, on_stones=True, seconds=7,
    )  # fmt: skip


def break_stone_hours():
    Stone.objects.filter(code="S-0001").update(bench_seconds=60)


def break_sale():
    Sale.objects.update(paid=Decimal("5.00"))


def break_commission():
    Commission.objects.filter(code="C-0001").update(charged=Decimal("9.00"), balance=Decimal("9.00"))


@pytest.mark.parametrize(
    ("fault", "check", "words"),
    [
        (break_stone, "weights", "S-0001: 4.000 ct began, 3.000 ct are accounted for."),
        (break_lot, "weights", "L-0001: what is left and what left it are not what came in."),
        (break_money, "what lots cost", "L-0001: its bills come to"),
        (break_numbers, "numbers without a gap", "is missing"),
        (break_beyond, "numbers without a gap", "was never given out."),
        (break_hours, "hours", "The days hold 7 s, the times 0 s."),
        (break_stone_hours, "hours", "S-0001: it stands at 60 s, its times are 0 s."),
        (break_sale, "sales", "its payments are not what it says was paid."),
        (break_commission, "commissions", "C-0001: its account does not add up."),
    ],
)
def test_each_fault_is_found_where_it_is(shop, fault, check, words):
    fault()
    found = told()
    assert any(words in one for one in found[check]), found[check]
    with pytest.raises(CommandError, match="need you"):
        call_command("doctor")


def test_a_missing_and_a_changed_picture_are_found(shop):
    photo = Photo.objects.create(sha256="ab" * 32, width=1, height=1, byte_count=1, taken_at=NOON)
    assert any("is missing" in one for one in told()["pictures and documents"])
    for size in photos.SIZES:
        default_storage.save(photos.path_of(photo.sha256, size), ContentFile(b"another"))
    assert told()["pictures and documents"] == [
        f"Photograph {photo.sha256[:12]} is not the one that was kept."
    ]


def test_a_spoilt_key_is_found(shop, tmp_path):
    (tmp_path / "keys" / "papers.pem").write_text("coffee")
    assert any("cannot be read" in one for one in told()["papers"])


def test_papers_that_changed_are_found(shop):
    paper = card_actions.issue_card(make_answered_gem(), by=shop, at=NOON)
    PaperFile.objects.create(paper=paper, size="a6", pdf=b"not the bytes", sha256="0" * 64, rendered_at=NOON)
    assert told()["papers"] == ["The PDF in size a6 is not the one that was issued."]


def test_what_others_may_read_is_told_without_alarm(shop, tmp_path):
    (tmp_path / "secret_key").write_text("x")
    (tmp_path / "secret_key").chmod(0o644)
    tmp_path.chmod(0o700)
    found = dict(doctor.look_over())["disk and data folder"]
    assert [one.serious for one in found] == [False]
    call_command("doctor")
