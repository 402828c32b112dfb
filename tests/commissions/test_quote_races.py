"""Answers and versions at the same moment: real threads, one clear outcome, and a plain sentence for who came second."""

import pytest

from tests import makers
from tests.commissions.quoted import BASE_URL, LATER, accept, make_draft, make_sent
from tests.laws.test_two_hands_at_once import all_at_once
from workshop.commissions.actions import quotes
from workshop.commissions.models import Commission, Quote

pytestmark = pytest.mark.django_db(transaction=True)


def test_accepted_by_many_at_once_counts_once():
    makers.make_shop(base_url=BASE_URL)
    quote = make_sent()
    done, no = all_at_once(lambda n: accept(quote, name=f"Mara {n}"), 8)
    assert (len(done), len(no)) == (1, 7)
    kept = Quote.objects.get()
    assert kept.answered_name == done[0].answered_name
    assert {refusal.message for refusal in no} == {
        f"Version 1 was accepted already, by {kept.answered_name} on 3 Mar 2026."
    }


@pytest.mark.parametrize("_round", range(3))
def test_accepted_while_a_new_version_is_sent_has_one_clear_outcome(_round):
    makers.make_shop(base_url=BASE_URL)
    first = make_sent()
    second = make_draft(first.commission, first.tariff)

    def deed(n):
        return accept(first) if n % 2 else quotes.send_quote(second, by=None, at=LATER, base_url=BASE_URL)

    done, no = all_at_once(deed, 2)
    first.refresh_from_db()
    second.refresh_from_db()
    state = Commission.objects.get().state
    if first.state == "accepted":
        # The agreement came first: the new version is an open change to it.
        assert (len(done), second.state, state) == (2, "sent", "accepted")
        assert second.paper.supersedes is None
    else:
        assert (len(done), first.state, second.state, state) == (1, "superseded", "sent", "quoted")
        assert no[0].message == "A newer version took the place of version 1; it cannot be accepted."
        assert second.paper.supersedes == first.paper


def test_accepted_while_it_is_withdrawn_or_declined_has_one_outcome():
    makers.make_shop(base_url=BASE_URL)
    quote = make_sent()
    deeds = [
        lambda: accept(quote),
        lambda: quotes.withdraw_quote(quote, reason="A slip.", by=None, at=LATER),
        lambda: quotes.decline_quote(quote, name="Mara", answered_from="told", by=None, at=LATER),
    ]
    done, no = all_at_once(lambda n: deeds[n](), 3)
    assert (len(done), len(no)) == (1, 2)
    assert Quote.objects.get().state == done[0].state
    assert Commission.objects.get().state == ("accepted" if done[0].state == "accepted" else "enquiry")
