"""Many cards or labels on one sheet: in their places, backs behind their fronts, ticks outside, nothing redrawn."""

import io
import json

import pdfplumber
import pytest
import zxingcpp
from django.urls import reverse

from tests import makers
from tests.makers import NOON, make_answered_gem, make_gem, make_hand, make_reader, make_shop, make_stone
from tests.papers import sheets as readers
from workshop.common.errors import DeedRefused
from workshop.gems.card_actions import issue_card
from workshop.papers import actions, labels, sheets
from workshop.papers.models import Paper, PaperFile

pytestmark = [pytest.mark.django_db, pytest.mark.pdf]

#: ISO 216 and ANSI Letter; ISO/IEC 7810 ID-1.
A4, LETTER, ID1 = (210.0, 297.0), (215.9, 279.4), (85.60, 53.98)


@pytest.fixture(autouse=True)
def shop(db):
    return make_shop(name="Wren & Alder", cutter="Oona Alder", base_url="https://cards.example")


@pytest.fixture
def owner(client):
    person = makers.somebody()
    client.force_login(person)
    return person


def a_card(**said):
    return issue_card(make_answered_gem(**said), by=makers.somebody(), at=NOON)


def codes_on(pdf, page, dpi=150):
    """Every QR code on a page with the middle of its place, mm from the left and top."""
    found = zxingcpp.read_barcodes(readers.page_image(pdf, page, dpi), formats=zxingcpp.BarcodeFormat.QRCode)
    mm = 25.4 / dpi
    corners = {
        one.text: [getattr(one.position, corner) for corner in ("top_left", "bottom_right")] for one in found
    }
    return {text: ((a.x + b.x) / 2 * mm, (a.y + b.y) / 2 * mm) for text, (a, b) in corners.items()}


def lines_mm(pdf, page):
    """The straight lines of a page that are as short as a tick: x0, top, x1, bottom in mm."""
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        shown = [
            tuple(float(line[name]) * readers.MM_PER_PT for name in ("x0", "top", "x1", "bottom"))
            for line in read.pages[page].lines
        ]
    return [
        one
        for one in shown
        if max(one[2] - one[0], one[3] - one[1]) == pytest.approx(sheets.TICK_MM, abs=0.02)
    ]


@pytest.mark.parametrize(("on", "size", "cards", "bags"), [("a4", A4, 10, 30), ("letter", LETTER, 8, 27)])
def test_as_many_as_fit_lie_inside_the_edge_and_apart(on, size, cards, bags):
    """Counted by hand: A4 holds 2 × 5 cards (2 × 85.6 + 3 = 174.2; 5 × 53.98 + 4 × 3 = 281.9 ≤ 283)."""
    for grid, count in ((sheets.card_grid(on), cards), (sheets.label_grid(on), bags)):
        assert grid.count == count
        places = [grid.place(at) for at in range(count)]
        assert min(x for x, _ in places) >= sheets.EDGE_MM and min(y for _, y in places) >= sheets.EDGE_MM
        assert max(x for x, _ in places) + grid.width_mm <= size[0] - sheets.EDGE_MM + 1e-9
        assert max(y for _, y in places) + grid.height_mm <= size[1] - sheets.EDGE_MM + 1e-9


@pytest.mark.parametrize(("on", "size"), [("a4", A4), ("letter", LETTER)])
def test_a_back_lies_behind_its_front(on, size):
    """Turned over its long edge, left becomes right: the two places are each other's mirror image."""
    grid = sheets.card_grid(on)
    for at in range(grid.count):
        (x, y), (back_x, back_y) = grid.place(at), grid.place(at, back=True)
        assert back_y == y and back_x == pytest.approx(size[0] - x - grid.width_mm)


def test_cards_on_a4_are_the_very_cards_in_their_places():
    papers = [a_card() for _ in range(3)]
    made = sheets.draw_cards(papers, "a4", at=NOON)
    assert [tuple(round(side, 1) for side in one) for one in readers.sizes_mm(made)] == [A4, A4]
    front, back = readers.texts(made)
    grid = sheets.card_grid("a4")
    found = codes_on(made, 1)
    assert len(found) == 3
    for at, paper in enumerate(papers):
        record = json.loads(paper.content)
        assert paper.number in front and paper.number in back
        # The code lies in the upper right corner of the back (its own sheet: 20 mm, 3.4 mm from the right edge).
        x, y = found[record["check_url"]]
        left, top = grid.place(at, back=True)
        assert left + 60 < x < left + ID1[0] and top < y < top + 26
    assert all(readers.fonts(made).values())


def test_what_is_on_the_sheet_is_what_was_issued():
    """Each card's pages are set on the sheet as they are: same letters at the same places."""
    paper = a_card(clarity="eye clean, seen at 30 cm")
    single = bytes(actions.bytes_of(paper, "id1", at=NOON).pdf)
    made = sheets.draw_cards([paper], "a4", at=NOON)
    left, top = sheets.card_grid("a4").place(0)

    def letters(pdf, page, dx, dy):
        with pdfplumber.open(io.BytesIO(pdf)) as read:
            return sorted(
                (char["text"], round(float(char["x0"]) - dx / readers.MM_PER_PT, 1),
                 round(float(char["top"]) - dy / readers.MM_PER_PT, 1))
                for char in read.pages[page].chars
            )  # fmt: skip

    ours, theirs = letters(made, 0, left, top), letters(single, 0, 0, 0)
    assert len(ours) == len(theirs) > 100
    for (a, x1, y1), (b, x2, y2) in zip(ours, theirs, strict=True):
        assert a == b and x1 == pytest.approx(x2, abs=0.15) and y1 == pytest.approx(y2, abs=0.15)


def test_the_ticks_stand_outside_every_card():
    papers = [a_card() for _ in range(4)]
    made = sheets.draw_cards(papers, "a4", at=NOON)
    grid = sheets.card_grid("a4")
    for page, back in ((0, False), (1, True)):
        ticks = lines_mm(made, page)
        assert len(ticks) == 4 * 8
        for at in range(4):
            left, top = grid.place(at, back=back)
            right, low = left + ID1[0], top + ID1[1]
            for x0, y0, x1, y1 in ticks:
                inside = x1 > left + 0.01 and x0 < right - 0.01 and y1 > top + 0.01 and y0 < low - 0.01
                assert not inside


def test_eleven_cards_fill_a_sheet_and_begin_another():
    papers = [a_card() for _ in range(2)] * 6
    made = sheets.draw_cards(papers[:11], "a4", at=NOON)
    assert len(readers.sizes_mm(made)) == 4
    assert len(sheets.draw_cards(papers[:9], "letter", at=NOON)) > 0


def test_a_card_is_drawn_once_and_never_again(monkeypatch):
    paper = a_card()
    sheets.draw_cards([paper], "a4", at=NOON)
    kept = PaperFile.objects.get(paper=paper, size="id1")
    monkeypatch.setattr("workshop.papers.actions.draw", lambda *said: pytest.fail("drawn again"))
    sheets.draw_cards([paper], "letter", at=NOON)
    assert PaperFile.objects.get(paper=paper, size="id1").sha256 == kept.sha256
    assert Paper.objects.count() == 1, "a sheet is no paper"


def test_labels_on_a_sheet_are_read_at_150_dpi():
    said = [labels.Label(f"S-{n:04d}", "tourmaline", f"{n}.000 ct", f"https://shop.example/stones/S-{n:04d}/") for n in range(1, 33)]  # fmt: skip
    made = sheets.draw_labels(said, "a4")
    assert [tuple(round(side, 1) for side in one) for one in readers.sizes_mm(made)] == [A4, A4]
    grid = sheets.label_grid("a4")
    found = codes_on(made, 0) | codes_on(made, 1)
    assert set(found) == {label.url for label in said}
    for at, label in enumerate(said[:30]):
        left, top = grid.place(at)
        x, y = found[label.url]
        assert left + 25 < x < left + 50 and top < y < top + 25
    words = " ".join(readers.texts(made))
    assert all(label.code in words for label in said)
    assert len(lines_mm(made, 1)) == 2 * 8


def test_odd_words_stay_inside_their_label():
    said = [labels.Label("S-0001", "שלום 💎 " + "x" * 300, "1.000 ct", "https://shop.example/stones/S-0001/"),
            labels.Label("S-0002", "<b>&amp;</b>", "2.000 ct", "https://shop.example/stones/S-0002/")]  # fmt: skip
    made = sheets.draw_labels(said, "letter")
    assert len(readers.sizes_mm(made)) == 1 and len(codes_on(made, 0)) == 2
    assert "<b>" in " ".join(readers.texts(made))


@pytest.mark.parametrize("count", [0, 201])
def test_none_and_too_many_are_refused(count):
    label = labels.Label("S-0001", "quartz", "1.000 ct", "https://shop.example/s/")
    with pytest.raises(DeedRefused, match="one to 200"):
        sheets.draw_labels([label] * count, "a4")
    with pytest.raises(DeedRefused, match="one to 200"):
        sheets.draw_cards([None] * count, "a4", at=NOON)


# --- From the lists -----------------------------------------------------------------------------------------------


def test_ticked_gems_lead_to_their_cards_and_labels(client, owner):
    first, second, third = (make_answered_gem() for _ in range(3))
    for gem in (first, second):
        issue_card(gem, by=owner, at=NOON)
    address = reverse("gems:sheet")
    page = client.get(address, {"gem": [first.code, second.code.lower()]}).content.decode()
    assert "IC-0001" in page and "IC-0002" in page and third.code not in page
    answer = client.get(address, {"gem": [first.code, second.code], "of": "cards", "on": "a4"})
    assert answer.status_code == 200 and answer.headers["Content-Type"] == "application/pdf"
    assert len(codes_on(answer.content, 1)) == 2
    answer = client.get(address, {"gem": [first.code, third.code], "of": "labels", "on": "letter"})
    assert set(codes_on(answer.content, 0)) == {
        f"https://cards.example{gem.get_absolute_url()}" for gem in (first, third)
    }


def test_a_gem_without_a_card_is_named(client, owner):
    gem = make_answered_gem()
    address = reverse("gems:sheet")
    page = client.get(address, {"gem": gem.code})
    assert page.status_code == 200 and "No card stands for" in page.content.decode()
    refused = client.get(address, {"gem": gem.code, "of": "cards", "on": "a4"})
    assert refused.status_code == 422 and gem.code in refused.content.decode()


def test_the_whole_list_that_a_filter_finds(client, owner):
    green, blue = make_answered_gem(colour="green"), make_answered_gem(colour="blue")
    for gem in (green, blue):
        issue_card(gem, by=owner, at=NOON)
    page = client.get(reverse("gems:sheet"), {"all": "on", "colour": "blue"}).content.decode()
    assert "IC-0002" in page and "IC-0001" not in page


def test_more_than_a_sheet_takes_is_refused_with_the_number(client, owner, monkeypatch):
    monkeypatch.setattr(sheets, "MOST", 2)
    for _ in range(3):
        make_gem()
    answer = client.get(reverse("gems:sheet"), {"all": "on"})
    assert answer.status_code == 422 and "The list holds 3" in answer.content.decode()
    gems = [f"G-{n:04d}" for n in range(1, 4)]
    assert client.get(reverse("gems:sheet"), {"gem": gems}).status_code == 422


def test_stones_have_labels_and_no_cards(client, owner):
    stone = make_stone(by=owner)
    address = reverse("stones:sheet")
    assert "Labels on 1 sheet of A4" in client.get(address, {"stone": stone.code}).content.decode()
    answer = client.get(address, {"all": "on", "of": "labels", "on": "a4"})
    assert set(codes_on(answer.content, 0)) == {f"https://cards.example{stone.get_absolute_url()}"}


def test_papers_that_do_not_stand_are_left_out_or_named(client, owner):
    standing, withdrawn = a_card(), a_card()
    actions.void(withdrawn, reason="a slip", by=owner, at=NOON)
    address = reverse("papers:sheet")
    page = client.get(address, {"all": "on"}).content.decode()
    assert standing.number in page and withdrawn.number not in page
    named = client.get(address, {"paper": [standing.number, withdrawn.number]})
    assert named.status_code == 422 and f"{withdrawn.number} is void" in named.content.decode()
    answer = client.get(address, {"paper": standing.number, "of": "cards", "on": "letter"})
    assert len(codes_on(answer.content, 1)) == 1


@pytest.mark.parametrize(
    ("name", "said", "status"),
    [
        ("gems:sheet", {}, 200),
        ("gems:sheet", {"colour": "mauve"}, 422),
        ("gems:sheet", {"gem": "G-9999"}, 422),
        ("gems:sheet", {"gem": "<script>"}, 422),
        ("stones:sheet", {"stone": "x" * 4000}, 422),
        ("papers:sheet", {"paper": "IC-9999"}, 422),
        ("papers:sheet", {"all": "on"}, 422),
        ("gems:sheet", {"all": "on", "of": "cards", "on": "a3"}, 404),
        ("gems:sheet", {"all": "on", "of": "rings", "on": "a4"}, 404),
    ],
)
def test_bad_choices_are_answered_with_a_reason(client, owner, name, said, status):
    answer = client.get(reverse(name), said)
    assert answer.status_code == status and b"<script>" not in answer.content.replace(b"<script src", b"")


def test_a_hand_and_a_reader_may_print_and_a_stranger_may_not(client):
    gem = make_answered_gem()
    issue_card(gem, by=makers.somebody(), at=NOON)
    address = f"{reverse('gems:sheet')}?gem={gem.code}"
    assert client.get(address).status_code == 302
    for person in (make_hand(), make_reader()):
        client.force_login(person)
        assert client.get(address).status_code == 200


def test_lists_offer_ticks_and_keep_their_filter(client, owner):
    gem = make_answered_gem(colour="blue")
    page = client.get(reverse("gems:gems"), {"colour": "blue"}).content.decode()
    assert f'name="gem" value="{gem.code}"' in page
    assert '<input type="hidden" name="colour" value="blue">' in page
