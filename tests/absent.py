"""What to do where a program that a test needs is absent: skip with the reason, but in CI fail."""

import os
from typing import NoReturn

import pytest


def in_ci() -> bool:
    return os.environ.get("CI", "").lower() in ("1", "true", "yes")


def absent(reason: str) -> NoReturn:
    if in_ci():
        pytest.fail(f"CI must have all that the tests need: {reason}", pytrace=False)
    pytest.skip(reason)
