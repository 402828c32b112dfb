"""Linking stones to the pieces of a commission."""

import pytest

from tests import makers
from workshop.commissions import progress
from workshop.commissions.actions import commissions
from workshop.common.models import JournalEntry

pytestmark = pytest.mark.django_db


def test_it_works():
    commission = makers.make_commission()
    item = commission.items.get()
    stone = makers.make_clients_stone(commission.client)
    commissions.link_stone(item, stone, by=None, at=makers.NOON)
    assert progress.stones_of(item) == [stone]
    line = JournalEntry.objects.filter(about=commission.code).first()
    assert (line.verb, line.after) == ("linked stone", {"piece": 1, "stone": stone.code})
    assert progress.under_floor() == []
    assert not progress.is_ready(item)
