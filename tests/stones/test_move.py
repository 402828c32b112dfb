"""Stages: on with one tap, taken back, back with a reason; waiting and resuming."""

from datetime import timedelta

import pytest
from django.utils import timezone

from tests.makers import NOON
from workshop.common.errors import DeedRefused
from workshop.handbook.units import parse_weight
from workshop.stones import actions
from workshop.stones.models import Stage


def stage_of(stone):
    stone.refresh_from_db()
    return stone.stage


class TestOn:
    def test_it_works(self, as_hand, stone):
        answer = as_hand.post(f"/stones/{stone.code}/move/", {"to": "preformed"})
        assert answer.status_code == 302
        assert stage_of(stone) == Stage.PREFORMED

    def test_all_later_stages_are_offered_but_finishing(self, as_hand, stone):
        actions.move_on(stone, "transferred", by=None, at=NOON)
        page = as_hand.get(f"/stones/{stone.code}/move/").content.decode()
        assert all(f'value="{stage}"' in page for stage in ("second_cut", "second_polished", "off_dop"))
        assert 'value="finished"' not in page
        assert 'value="preformed"' not in page

    @pytest.mark.parametrize("to", ["finished", "selected", "polished to death", "", "\x00"])
    def test_other_stages_are_refused(self, as_hand, stone, to):
        answer = as_hand.post(f"/stones/{stone.code}/move/", {"to": to})
        assert answer.status_code == 422
        assert stage_of(stone) == Stage.SELECTED

    def test_tapped_twice_it_moves_once(self, as_hand, stone):
        for _ in range(2):
            answer = as_hand.post(f"/stones/{stone.code}/move/", {"to": "preformed", "once": "k1"})
            assert answer.status_code == 302
        assert stone.stage_changes.count() == 1

    def test_it_ends_the_waiting(self, as_hand, stone):
        actions.wait_for(stone, "glue", by=None, at=NOON)
        as_hand.post(f"/stones/{stone.code}/move/", {"to": "preformed"})
        stone.refresh_from_db()
        assert stone.waiting_for == ""


class TestTakenBack:
    def test_the_message_offers_it_and_it_is_no_rework(self, as_hand, stone):
        page = as_hand.post(f"/stones/{stone.code}/move/", {"to": "first_cut"}, follow=True).content.decode()
        undo = f"/stones/steps/{stone.stage_changes.get().pk}/take-back/"
        assert undo in page
        assert as_hand.post(undo).status_code == 302
        assert stage_of(stone) == Stage.SELECTED
        assert not stone.rework
        assert stone.stage_changes.count() == 2

    def test_only_the_last_step(self, stone):
        actions.move_on(stone, "preformed", by=None, at=NOON)
        first = stone.stage_changes.get()
        actions.move_on(stone, "first_cut", by=None, at=NOON)
        with pytest.raises(DeedRefused, match="last step"):
            actions.take_back_step(first, by=None, at=NOON)

    def test_not_for_ever(self, stone):
        actions.move_on(stone, "preformed", by=None, at=NOON)
        with pytest.raises(DeedRefused, match="some time ago"):
            actions.take_back_step(stone.stage_changes.get(), by=None, at=NOON + timedelta(minutes=11))

    def test_not_once_it_was_weighed(self, stone):
        actions.move_on(stone, "preformed", by=None, at=NOON)
        actions.record_weight(stone, parse_weight("9 ct"), by=None, at=NOON)
        with pytest.raises(DeedRefused, match="weighed since"):
            actions.take_back_step(stone.stage_changes.get(), by=None, at=NOON)

    def test_get_does_nothing(self, as_hand, stone):
        actions.move_on(stone, "preformed", by=None, at=timezone.now())
        assert as_hand.get(f"/stones/steps/{stone.stage_changes.get().pk}/take-back/").status_code == 405


class TestBack:
    def test_it_works_and_hours_are_rework_from_then_on(self, as_hand, hand, stone):
        actions.move_on(stone, "first_polished", by=None, at=NOON)
        answer = as_hand.post(f"/stones/{stone.code}/back/", {"stage": "first_cut", "reason": "a chip"})
        assert answer.status_code == 302
        stone.refresh_from_db()
        assert (stone.stage, stone.rework) == (Stage.FIRST_CUT, True)
        as_hand.post("/stones/clock/start/", {"stone": stone.code})
        assert hand.times.get().rework

    def test_without_a_reason_it_is_refused(self, as_hand, stone):
        actions.move_on(stone, "first_polished", by=None, at=NOON)
        answer = as_hand.post(f"/stones/{stone.code}/back/", {"stage": "first_cut", "reason": ""})
        assert answer.status_code == 422
        assert answer.context["form"].errors["reason"]
        assert stage_of(stone) == Stage.FIRST_POLISHED

    @pytest.mark.parametrize("to", ["second_cut", "first_polished", "", "nowhere"])
    def test_back_is_never_on(self, as_hand, stone, to):
        actions.move_on(stone, "first_polished", by=None, at=NOON)
        answer = as_hand.post(f"/stones/{stone.code}/back/", {"stage": to, "reason": "a chip"})
        assert answer.status_code == 422


class TestWaiting:
    def test_it_works_and_is_taken_up_again(self, as_hand, stone):
        answer = as_hand.post(f"/stones/{stone.code}/wait/", {"what": "glue", "note": "epoxy, till morning"})
        assert answer.status_code == 302
        page = as_hand.get(f"/stones/{stone.code}/").content.decode()
        assert "Waits for glue: epoxy, till morning" in page
        as_hand.post(f"/stones/{stone.code}/resume/")
        stone.refresh_from_db()
        assert (stone.waiting_for, stone.waiting_note, stone.waiting_since) == ("", "", None)

    def test_for_something_else_it_has_to_be_said(self, as_hand, stone):
        answer = as_hand.post(f"/stones/{stone.code}/wait/", {"what": "other", "note": " "})
        assert answer.status_code == 422
        assert answer.context["form"].errors["note"]

    @pytest.mark.parametrize("what", ["", "godot"])
    def test_for_nothing_known(self, as_hand, stone, what):
        assert as_hand.post(f"/stones/{stone.code}/wait/", {"what": what}).status_code == 422

    def test_what_does_not_wait_is_not_resumed(self, as_hand, stone):
        answer = as_hand.post(f"/stones/{stone.code}/resume/")
        assert answer.status_code == 422
        assert "is not waiting" in answer.content.decode()
