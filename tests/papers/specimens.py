"""One issued paper of every kind with its bytes in every size, made once a run; drawing them anew for each test is slow.

A specimen is plain data. ``plant`` puts it back into a test's own database as it was, with its bytes and the public
half of its key.
"""

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from tests import makers
from tests.commissions.deliveries import make_spinel_commission
from tests.commissions.intakes import photographed
from tests.commissions.quoted import make_sent
from tests.makers import NOON
from tests.papers.documents import a_condition_report, a_quote, issued, make_document_shop
from workshop.commissions.actions import intake_papers
from workshop.commissions.actions.delivery import deliver
from workshop.gems import card_actions, certificate_actions, suite_actions
from workshop.papers import actions
from workshop.papers.kinds import SHEETS
from workshop.papers.models import Paper, PaperFile, PaperKey, PaperKind

SITE = "https://cards.example"


@dataclass(frozen=True)
class Specimen:
    row: dict
    public: str
    files: dict

    @property
    def sizes(self):
        return list(self.files)


def a_card():
    gem = makers.make_answered_gem(clarity="a few needles at 10x lens", cut="step crown, brilliant pavilion")
    return card_actions.issue_card(gem, by=makers.somebody(), at=NOON)


def a_certificate():
    gem = makers.make_answered_gem(clarity="a few needles at 10x lens", cut="step crown, brilliant pavilion")
    return certificate_actions.issue_certificate(gem, by=makers.somebody(), at=NOON)


def a_suite_certificate():
    gems = [makers.make_answered_gem() for _ in range(2)]
    suite = suite_actions.make_suite(gems, name="Two greens", kind="pair", by=makers.somebody(), at=NOON)
    return certificate_actions.issue_suite_certificate(suite, by=makers.somebody(), at=NOON)


def a_sent_quote():
    return make_sent(by=makers.somebody()).paper


def a_receipt():
    return intake_papers.issue_receipt(photographed(), by=makers.somebody(), at=NOON, base_url=SITE)


def a_report():
    return issued(a_condition_report(makers.Shop.the()), PaperKind.CONDITION)


def a_handing_over_note():
    owner = makers.somebody()
    commission, item, _gem = make_spinel_commission(owner)
    later = NOON + timedelta(days=10)
    made = deliver(
        commission, items=[item], on=later.date(), how="registered post", declared_value=Decimal("840.10"), sure=True,
        by=owner, at=later,
    )  # fmt: skip
    return made.note


def a_document_of(kind):
    """For kinds without a deed of their own here: any document will do for what is asked of all of them."""
    return lambda: issued(a_quote(makers.Shop.the(), title=kind.label.capitalize()), kind)


DEEDS = {
    PaperKind.INFO_CARD: a_card,
    PaperKind.CERTIFICATE: a_certificate,
    PaperKind.SUITE: a_suite_certificate,
    PaperKind.QUOTE: a_sent_quote,
    PaperKind.INTAKE_RECEIPT: a_receipt,
    PaperKind.CONDITION: a_report,
    PaperKind.HANDING_OVER: a_handing_over_note,
    **{kind: a_document_of(kind) for kind in (PaperKind.INVOICE, PaperKind.CREDIT_NOTE, PaperKind.MEMO_NOTE)},
}

#: Kind and size of everything that is drawn, for parametrize: known before anything is made.
EVERY = [(kind, size) for kind in DEEDS for size in SHEETS[kind]]
IDS = [f"{kind.value}-{size}" for kind, size in EVERY]


def make_all():
    """Specimens of every kind, inside a transaction that the caller undoes."""
    make_document_shop()
    return {kind: _taken_down(deed()) for kind, deed in DEEDS.items()}


def _taken_down(paper):
    kept = Paper.objects.get(pk=paper.pk)
    row = {
        field.attname: getattr(kept, field.attname)
        for field in Paper._meta.concrete_fields
        if not field.primary_key and field.attname not in {"issued_by_id", "key_id", "voided_by_id"}
    }
    sizes = SHEETS[kept.kind]
    files = {size: bytes(actions.bytes_of(kept, size, at=NOON).pdf) for size in sizes}
    assert set(files) == set(sizes)
    return Specimen(row, kept.key.public, files)


def plant(*specimens):
    """The papers, as they were issued, in this test's database."""
    papers = []
    for specimen in specimens:
        key, _ = PaperKey.objects.get_or_create(public=specimen.public, defaults={"since": NOON})
        paper = Paper.objects.create(**specimen.row, key=key)
        for size, data in specimen.files.items():
            PaperFile.objects.create(
                paper=paper, size=size, pdf=data, sha256=actions.sha256_of(data), rendered_at=NOON
            )
        papers.append(paper)
    return papers[0] if len(papers) == 1 else papers
