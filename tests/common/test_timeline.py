"""What happened: the newest ten lines are seen at once, the older ones fold."""

import re
from datetime import UTC, datetime

import pytest
from django.template.loader import render_to_string

AT = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)


@pytest.mark.parametrize(("count", "folded"), [(1, 0), (10, 0), (11, 1), (60, 50)])
def test_only_ten_lines_stand_open_and_none_is_lost(count, folded):
    events = [{"at": AT, "text": f"Deed {number}"} for number in range(count)]
    page = render_to_string("common/_timeline.html", {"events": events})
    seen, _, rest = page.partition("<details")
    assert len(re.findall(r">Deed \d+<", seen)) == count - folded
    assert len(re.findall(r">Deed \d+<", rest)) == folded
    assert re.findall(r"Deed (\d+)<", page) == [str(number) for number in range(count)]
