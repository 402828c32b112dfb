"""Pairs and suites: what may go together, how it matches, what it weighs, its certificate, and its pages."""

import json
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from tests import makers
from tests.makers import DAY, NOON, make_answered_gem, make_contact, make_gem, make_shop, say
from tests.papers import sheets
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry
from workshop.common.say import GAP
from workshop.gems.card_actions import QuestionOpen, WordsRefused
from workshop.gems.certificate_actions import issue_suite_certificate, revise_suite_certificate
from workshop.gems.matching import match_of, total_ct
from workshop.gems.models import FinishedGem, Suite, SuiteMember
from workshop.gems.papers_suite import matching_rows, total
from workshop.gems.suite_actions import break_up, change_suite, make_suite, members_of, replace_member
from workshop.papers import actions
from workshop.papers.models import Paper

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def shop(db):
    return make_shop(
        name="Wren & Alder",
        cutter="Oona Alder",
        base_url="https://cards.example",
        scale_step_ct=Decimal("0.001"),
    )


@pytest.fixture
def owner(client):
    person = makers.somebody()
    client.force_login(person)
    return person


def together(*gems, **said):
    gems = gems or (make_answered_gem(), make_answered_gem())
    said = {"name": "Twin tears", "kind": "pair" if len(gems) == 2 else "suite"} | said
    return make_suite(gems, by=makers.somebody(), at=said.pop("at", NOON), **said)


def issue(suite, **said):
    return issue_suite_certificate(suite, by=makers.somebody(), at=NOON, **said)


def content(paper):
    return json.loads(paper.content)


# --- What may go together -------------------------------------------------------------------------------------------


def test_a_pair_is_made_numbered_and_told_in_the_journal():
    a, b = make_gem(), make_gem()
    suite = together(a, b)
    assert suite.code == "PS-0001" and suite.stands and members_of(suite) == [a, b]
    told = JournalEntry.objects.filter(about=suite.code).get()
    assert told.after["gems"] == [a.code, b.code]
    assert JournalEntry.objects.filter(about=b.code, verb="put together").exists()


def test_goods_of_two_owners_never_go_together_and_both_are_named():
    client, other = make_contact("Mara Quill", is_client=True), make_contact("Ivo Reed", is_client=True)
    ours, theirs, anothers = (
        make_gem(),
        make_gem(stone=makers.make_clients_stone(client)),
        make_gem(stone=makers.make_clients_stone(other)),
    )
    with pytest.raises(DeedRefused, match=f"{theirs.code} is Mara Quill.*{ours.code} is the shop"):
        together(ours, theirs)
    with pytest.raises(DeedRefused, match="one owner"):
        together(theirs, anothers)
    assert together(theirs, make_gem(stone=makers.make_clients_stone(client))).stands


def test_a_gem_is_in_one_standing_suite_only():
    a, b, c = (make_gem() for _ in range(3))
    first = together(a, b)
    with pytest.raises(DeedRefused, match=f"{b.code} is in {first.code} “Twin tears”"):
        together(b, c)
    with pytest.raises(IntegrityError), transaction.atomic():
        SuiteMember.objects.create(suite=Suite.objects.create(code="PS-9", name="x", kind="pair", made_on=DAY),
                                   gem=a, since=DAY)  # fmt: skip
    break_up(first, why="one was wanted alone", by=makers.somebody(), at=NOON)
    assert together(b, c).stands


@pytest.mark.parametrize(("count", "kind", "why"), [(1, "pair", "two gems, not 1"), (3, "pair", "two gems, not 3"),
                                                    (1, "suite", "two to 60"), (61, "parcel", "two to 60")])  # fmt: skip
def test_too_few_and_too_many_are_refused(count, kind, why):
    gem = make_gem()
    gems = [gem] if count == 1 else [FinishedGem(pk=gem.pk, code=f"G-{n}") for n in range(count)]
    with pytest.raises(DeedRefused, match=why):
        together(*gems, kind=kind)
    assert not Suite.objects.exists()


def test_a_gem_twice_and_a_gem_that_is_gone_are_refused_by_name():
    a, gone = make_gem(), make_gem()
    with pytest.raises(DeedRefused, match=f"{a.code} is named twice"):
        together(a, a)
    FinishedGem.objects.filter(pk=gone.pk).update(gone_on=DAY, gone_as="given")
    with pytest.raises(DeedRefused, match=f"{gone.code} is not here any more"):
        together(a, gone)
    # Numbers run without a gap: what was refused gave its number back.
    assert together(a, make_gem()).code == "PS-0001"


# --- Change, replace, break up --------------------------------------------------------------------------------------


def test_one_is_replaced_and_the_story_keeps_both():
    a, b, c = (make_gem() for _ in range(3))
    suite = together(a, b)
    later = NOON + timedelta(days=2)
    replace_member(suite, b, c, why="c is nearer in colour", by=makers.somebody(), at=later)
    assert members_of(suite) == [a, c]
    row = SuiteMember.objects.get(gem=b)
    assert row.until == later.date() and row.taken_out_why == "c is nearer in colour"
    assert together(b, make_gem()).stands, "what was taken out is free"


@pytest.mark.parametrize("why", ["", "   "])
def test_replacing_needs_a_reason_and_a_gem_that_is_in_it(why):
    a, b, c = (make_gem() for _ in range(3))
    suite = together(a, b)
    with pytest.raises(DeedRefused, match="Say why"):
        replace_member(suite, b, c, why=why, by=makers.somebody(), at=NOON)
    with pytest.raises(DeedRefused, match=f"{c.code} is not in"):
        replace_member(suite, c, a, why="x", by=makers.somebody(), at=NOON)
    client = make_contact("Mara Quill", is_client=True)
    with pytest.raises(DeedRefused, match="one owner"):
        replace_member(
            suite,
            b,
            make_gem(stone=makers.make_clients_stone(client)),
            why="x",
            by=makers.somebody(),
            at=NOON,
        )
    assert members_of(suite) == [a, b]


def test_broken_up_it_stays_readable_and_does_nothing_more():
    a, b, c = (make_gem() for _ in range(3))
    suite = together(a, b)
    # Replaced and broken up on one day: what was taken out before is not told as a member of the end.
    replace_member(suite, b, c, why="nearer", by=makers.somebody(), at=NOON)
    suite = break_up(suite, why="sold apart", by=makers.somebody(), at=NOON)
    assert not suite.stands and members_of(suite) == [a, c]
    for deed in (
        lambda: break_up(suite, why="again", by=None, at=NOON),
        lambda: change_suite(suite, {"name": "x"}, by=None, at=NOON),
        lambda: replace_member(suite, a, b, why="x", by=None, at=NOON),
        lambda: issue(suite),
    ):
        with pytest.raises(DeedRefused, match="broken up"):
            deed()


def test_a_change_keeps_what_was_before():
    suite = together(tolerance_mm=Decimal("0.10"))
    change_suite(
        suite, {"name": "Two drops", "tolerance_mm": None, "code": "PS-7"}, by=makers.somebody(), at=NOON
    )
    suite = Suite.objects.get()
    assert (suite.name, suite.tolerance_mm, suite.code) == ("Two drops", None, "PS-0001")
    told = JournalEntry.objects.filter(verb="described", about=suite.code).get()
    assert told.before["name"] == "Twin tears" and told.after["name"] == "Two drops"


# --- How they match, what they weigh ----------------------------------------------------------------------------------


def test_the_spread_is_told_against_the_tolerance(shop):
    """Worked by hand: 9.18 − 9.12 = 0.06 ≤ 0.06; 2.378 − 2.345 = 0.033 > 0.032."""
    gems = [
        make_gem(weight="2.345 ct"),
        make_gem(weight="2.378 ct", length_mm=Decimal("9.18"), colour="Bluish  green, medium"),
    ]
    suite = together(*gems, tolerance_mm=Decimal("0.06"), tolerance_ct=Decimal("0.032"))
    match = match_of(suite, gems)
    length, width, depth, weight = match.spreads
    assert (length.apart, length.within) == (Decimal("0.06"), True)
    assert (width.apart, width.within) == (0, True)
    assert depth.within is None, "no tolerance, no verdict"
    assert (weight.apart, weight.within) == (Decimal("0.033"), False)
    assert match.verdict is False and match.one_colour, "the same words, however typed"
    rows = {row["label"]: row for row in matching_rows(match, shop)}
    assert rows["Weight"]["text"].replace(GAP, " ") == "2.345 to 2.378 ct, 0.033 ct apart"
    assert rows["Weight"]["verdict"].replace(GAP, " ") == "outside 0.032 ct" and rows["Weight"]["outside"]
    assert rows["Width"]["text"].replace(GAP, " ") == "7.04 mm, alike"


def test_without_tolerances_nothing_is_called_matching_and_colours_are_told_apart(shop):
    gems = [make_gem(colour="blue"), make_gem(colour="green")]
    match = match_of(together(*gems), gems)
    assert match.verdict is None and not match.one_colour
    row = matching_rows(match, shop)[-1]
    assert row["text"] == f"blue ({gems[0].code}); green ({gems[1].code})"


@pytest.mark.parametrize(
    ("weights", "stated"),
    [
        (["0.478", "0.478"], "0.95"),  # 0.956 → 0.95; stated one by one 0.47 + 0.47 = 0.94
        (["1.999", "1.998"], "3.99"),  # 3.997 → 3.99; W3: 2.00 + 1.99 alike
        (["1.768", "0.001", "1.769"], "3.53"),  # 3.538 → 3.53
        (["1.769", "1.000"], "2.77"),  # W2: the nine raises
        (["0.009", "0.009"], "0.01"),  # 0.018 → 0.01
    ],
)
def test_the_total_is_added_from_the_thousandths_and_stated_once(shop, weights, stated):
    """Disclosure sheet section 2, totals; W cases of section 9: up only when the thousandth is a nine."""
    gems = [FinishedGem(weight_ct=Decimal(one)) for one in weights]
    assert total(gems, shop)["weight_ct"] == stated
    assert total_ct(gems) == sum(map(Decimal, weights))
    assert "in total" in total(gems, shop)["how"], "WT-08"


def test_the_total_is_never_finer_than_the_scale(shop):
    shop.scale_step_ct = Decimal("0.1")
    gems = [FinishedGem(weight_ct=Decimal(one)) for one in ("1.2", "1.3")]
    assert total(gems, shop)["weight_ct"] == "2.5"


# --- Its certificate ----------------------------------------------------------------------------------------------------


def test_every_members_disclosure_stands_on_it_and_like_ones_share_one():
    a, b, dyed = (make_answered_gem() for _ in range(3))
    say(dyed.stone, "treatment", 5, treated="treated", treatments=["dye"], said_by="LAB", how="no. 7")
    paper = issue(together(a, b, dyed))
    said = content(paper)
    assert paper.number == "CS-0001" and [group["gems"] for group in said["groups"]] == [
        [a.code, b.code],
        [dyed.code],
    ]
    assert said["names"] == ["Tourmaline", "Dyed tourmaline"]
    assert "not a laboratory report" in said["role"]
    assert [one["gem"] for one in said["members"]] == [a.code, b.code, dyed.code]


def test_one_open_question_or_one_wrong_word_stops_all():
    fine, open_one = make_answered_gem(), make_gem()
    with pytest.raises(QuestionOpen, match=open_one.code):
        issue(together(fine, open_one))
    with pytest.raises(WordsRefused, match="Flawless"):
        issue(together(make_answered_gem(), make_answered_gem(), name="Flawless twins"))
    assert not Paper.objects.exists()


def test_a_member_back_for_work_stops_it_and_one_stands_at_a_time():
    a, b = make_answered_gem(), make_answered_gem()
    suite = together(a, b)
    paper = issue(suite)
    with pytest.raises(DeedRefused, match="CS-0001 stands"):
        issue(suite)
    assert (
        revise_suite_certificate(paper, reason="weighed again", by=makers.somebody(), at=NOON).number
        == "CS-0002"
    )
    FinishedGem.objects.filter(pk=b.pk).update(gone_on=DAY, gone_as="recut")
    with pytest.raises(DeedRefused, match=f"{b.code} went back for work"):
        revise_suite_certificate(
            Paper.objects.get(number="CS-0002"), reason="x", by=makers.somebody(), at=NOON
        )


def test_no_owner_is_named_on_it():
    client = make_contact("Mara Quill", is_client=True)
    gems = []
    for _ in range(2):
        gem = make_answered_gem(stone=makers.make_clients_stone(client))
        gems.append(gem)
    assert "Quill" not in issue(together(*gems, name="Mara Quill’s pair")).content


@pytest.mark.pdf
@pytest.mark.parametrize(("size", "mm"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_it_comes_out_whole(size, mm):
    gems = [make_answered_gem(weight=f"1.0{n}8 ct", shape="heart" if n % 2 else "oval") for n in range(5)]
    paper = issue(together(*gems, name="שרשרת 💎 a line for a bracelet", tolerance_ct=Decimal("0.01")))
    made, said = bytes(actions.bytes_of(paper, size, at=NOON).pdf), content(paper)
    for width, height in sheets.sizes_mm(made):
        assert width == pytest.approx(mm[0], abs=0.1) and height == pytest.approx(mm[1], abs=0.1)
    shown = sheets.bare(" ".join(sheets.texts(made)))
    wanted = [
        said["total"]["weight_ct"],
        said["total"]["how"],
        said["number"],
        "outside",
        "bracelet",
        said["role"],
    ]
    wanted += [one[name] for one in said["members"] for name in ("gem", "weight", "size")] + said["measured"]
    for told in wanted:
        assert all(sheets.bare(word) in shown for word in told.split()), told
    assert said["total"]["weight_ct"] == "5.14", "1.008 + 1.018 + 1.028 + 1.038 + 1.048 = 5.140"
    assert sheets.code_on(made, 0, 150) == said["check_url"] and all(sheets.fonts(made).values())
    assert sheets.least_type_pt(made) >= 5.99


# --- The pages ----------------------------------------------------------------------------------------------------------


def test_from_ticks_to_a_pair_to_its_certificate(client, owner):
    a, b = make_answered_gem(), make_answered_gem()
    form = client.get(reverse("gems:make_suite"), {"gem": [a.code, b.code]}).content.decode()
    assert f"{a.code} {b.code}" in form
    sent = {"gems": f"{a.code}, {b.code.lower()}", "kind": "pair", "name": "Twin tears", "tolerance_mm": "0,1",
            "tolerance_ct": "0.02 ct", "once": "k"}  # fmt: skip
    answer = client.post(reverse("gems:make_suite"), sent)
    suite = Suite.objects.get()
    assert answer.status_code == 302 and answer.url == suite.get_absolute_url()
    assert (suite.tolerance_mm, suite.tolerance_ct) == (Decimal("0.10"), Decimal("0.020"))
    page = client.get(suite.get_absolute_url()).content.decode()
    assert "within tolerance" in page and a.code in page
    assert suite.code in client.get(a.get_absolute_url()).content.decode()
    assert suite.name in client.get(reverse("gems:suites"), {"words": b.code}).content.decode()
    address = reverse("gems:issue_suite_paper", args=[suite.code])
    assert client.post(address, {"sizes": ["a4"], "profile": "strict"}).status_code == 302
    paper = Paper.objects.get()
    assert suite.code in client.get(paper.get_absolute_url()).content.decode()
    client.logout()
    check = client.get(reverse("papers:check", args=[paper.check_code])).content.decode()
    assert "4.69 ct" in check and a.code in check  # 2.345 + 2.345 = 4.690


def test_changing_replacing_and_breaking_up_by_form(client, owner):
    a, b, c = (make_gem() for _ in range(3))
    suite = together(a, b)
    words = {"name": "Two drops", "tolerance_mm": "", "tolerance_ct": "", "note": "n"}
    assert client.post(reverse("gems:change_suite", args=[suite.code]), words).status_code == 302
    replaced = {"old": b.code, "new": c.code, "why": "nearer"}
    assert client.post(reverse("gems:replace_member", args=[suite.code]), replaced).status_code == 302
    assert (
        client.post(reverse("gems:break_up_suite", args=[suite.code]), {"why": "sold apart"}).status_code
        == 302
    )
    suite = Suite.objects.get()
    assert suite.name == "Two drops" and not suite.stands and members_of(suite) == [a, c]
    assert "sold apart" in client.get(suite.get_absolute_url()).content.decode()


@pytest.mark.parametrize(
    ("said", "field"),
    [({"gems": "G-9999 G-9998"}, "gems"), ({"gems": ""}, "gems"), ({"name": ""}, "name"), ({"kind": "crowd"}, "kind"),
     ({"tolerance_mm": "much"}, "tolerance_mm"), ({"tolerance_mm": "-1"}, "tolerance_mm"),
     ({"tolerance_ct": "1 kg of it"}, "tolerance_ct"), ({"name": "x" * 121}, "name")],
)  # fmt: skip
def test_odd_typing_is_refused_beside_its_field(client, owner, said, field):
    a, b = make_gem(), make_gem()
    sent = {
        "gems": f"{a.code} {b.code}",
        "kind": "pair",
        "name": "n",
        "tolerance_mm": "",
        "tolerance_ct": "",
    } | said
    answer = client.post(reverse("gems:make_suite"), sent)
    assert answer.status_code == 422 and field in answer.context["form"].errors
    assert not Suite.objects.exists()


def test_everybody_looks_and_only_the_owner_deeds(client):
    suite = together()
    paper = issue(suite)
    looks = [reverse("gems:suites"), suite.get_absolute_url()]
    deeds = [reverse("gems:make_suite"), reverse("gems:revise_suite_paper", args=[paper.number])]
    deeds += [reverse(f"gems:{name}", args=[suite.code])
              for name in ("change_suite", "replace_member", "break_up_suite", "issue_suite_paper")]  # fmt: skip
    for address in looks + deeds:
        assert client.get(address).status_code == 302
    for person in (makers.make_hand(), makers.make_reader()):
        client.force_login(person)
        assert all(client.get(address).status_code == 200 for address in looks)
        assert all(client.get(address).status_code == 403 for address in deeds)


def test_the_list_asks_the_same_number_of_questions_for_one_and_for_five(
    client, owner, django_assert_num_queries
):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    together()
    client.get(reverse("gems:suites"))
    with CaptureQueriesContext(connection) as one:
        client.get(reverse("gems:suites"))
    for _ in range(4):
        together()
    with django_assert_num_queries(len(one)):
        client.get(reverse("gems:suites"))
