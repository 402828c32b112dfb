"""Writing down an enquiry."""

import pytest

from tests import makers
from workshop.commissions.models import Commission

URL = "/commissions/new/"
pytestmark = pytest.mark.django_db


def typed(**said):
    return {
        "new_client": "Mara Quill", "asked_on": "2026-03-02", "work_1": "cut_client",
        "wanted_1": "an oval of her aquamarine", "off_cuts_1": "back", **said,
    }  # fmt: skip


@pytest.fixture
def owner(client):
    makers.make_shop()
    person = makers.make_owner()
    client.force_login(person)
    return person


def test_it_works(client, owner):
    answer = client.post(URL, typed(floor_ct_1="2.1", length_mm_1="9", width_mm_1="7", tolerance_mm_1="0.1"))
    commission = Commission.objects.get()
    assert answer.url == commission.get_absolute_url() == "/commissions/C-0001/"
    assert (commission.client.name, commission.client.is_client) == ("Mara Quill", True)
    item = commission.items.get()
    assert (item.size_words, str(item.floor_ct)) == ("9.00 × 7.00 mm ± 0.10 mm", "2.100")
    page = client.get(answer.url)
    assert page.status_code == 200
    for url in (
        "/commissions/",
        "/commissions/board/",
        "/commissions/C-0001/edit/",
        "/commissions/C-0001/1/",
        "/commissions/C-0001/1/stone/",
        "/commissions/C-0001/1/draw/",
        "/commissions/C-0001/photo/",
        "/commissions/C-0001/close/",
        "/commissions/C-0001/add/",
        URL,
    ):
        assert client.get(url).status_code == 200, url
