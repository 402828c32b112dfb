"""A body larger than any form of ours can need is refused before it is read."""

import pytest
from django.http import HttpResponse
from django.test import RequestFactory

from workshop.common.middleware import RequestSizeMiddleware

LIMIT = 128 * 1024 * 1024


def answer(size: object) -> HttpResponse:
    request = RequestFactory().post("/", CONTENT_LENGTH=size)
    return RequestSizeMiddleware(lambda request: HttpResponse("read"))(request)


@pytest.mark.parametrize("size", [0, 30 * 1024 * 1024, LIMIT, "", "many"])
def test_up_to_the_limit_the_form_has_its_say(size):
    assert answer(size).status_code == 200


def test_above_the_limit_nothing_is_read():
    refusal = answer(LIMIT + 1)
    assert refusal.status_code == 413
    assert b"larger than 128 MB" in refusal.content
