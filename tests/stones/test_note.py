"""Notes, stop notes and readings on the dop."""

import pytest

from tests.makers import NOON
from workshop.stones import actions


def url(stone):
    return f"/stones/{stone.code}/note/"


def test_it_works(as_hand, hand, stone):
    answer = as_hand.post(url(stone), {"kind": "note", "text": "two needles under the table"})
    assert answer.status_code == 302
    note = stone.notes.get()
    assert (note.text, note.stage, note.by) == ("two needles under the table", "selected", hand)


def test_a_stop_note_stands_on_the_stone(as_hand, stone):
    as_hand.post(url(stone), {"kind": "stop", "text": "row 3, index 24 left"})
    stone.refresh_from_db()
    assert stone.stop_note == "row 3, index 24 left"


def test_a_dop_reading_never_becomes_a_weight(as_hand, stone):
    actions.move_on(stone, "first_cut", by=None, at=NOON)
    as_hand.post(url(stone), {"kind": "on_dop", "text": "14.2 ct with dop 3"})
    stone.refresh_from_db()
    assert stone.weight_ct == stone.start_ct
    assert stone.notes.get().kind == "on_dop"


def test_a_colour_seen_stays_a_note(as_hand, stone):
    as_hand.post(url(stone), {"kind": "colour", "text": "teal by the lamp"})
    assert stone.notes.get().kind == "colour"


def test_the_kind_a_button_named_is_chosen(as_hand, stone):
    assert as_hand.get(f"{url(stone)}?kind=trouble").context["form"].initial["kind"] == "trouble"
    assert as_hand.get(f"{url(stone)}?kind=nonsense").context["form"].initial["kind"] == "note"


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"kind": "note", "text": ""}, "text"),
        ({"kind": "note", "text": "   "}, "text"),
        ({"kind": "note", "text": "x" * 2001}, "text"),
        ({"kind": "note", "text": "a\x00b"}, "text"),
        ({"kind": "song", "text": "la"}, "kind"),
        ({}, "text"),
    ],
)
def test_slips_are_refused(as_hand, stone, sent, field):
    answer = as_hand.post(url(stone), sent)
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    assert not stone.notes.exists()


def test_a_note_on_an_ended_stone_is_welcome(as_hand, stone):
    actions.end_stone(stone, "lost", reason="pinged", by=None, at=NOON)
    assert as_hand.post(url(stone), {"kind": "note", "text": "searched the tank"}).status_code == 302


def test_sent_twice_it_is_written_once(as_hand, stone):
    for _ in range(2):
        as_hand.post(url(stone), {"kind": "note", "text": "once", "once": "k"})
    assert stone.notes.count() == 1


def test_a_reader_writes_nothing(as_reader, stone):
    assert as_reader.post(url(stone), {"kind": "note", "text": "hello"}).status_code == 403
