"""What the demo's loaders share: who and what came in so far, and how the tables tell days and statements."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Any

from workshop.common.models import Hand, Shop
from workshop.gems.models import FinishedGem
from workshop.materials.models import Material
from workshop.people.models import Contact
from workshop.rough.models import RoughLot
from workshop.stones.models import Stone

OPENS, CLOSES = time(8, 30), time(18, 30)


class House:
    """What has come in, by the keys of the tables. ``now`` is the end of the demo's year; ``free`` is when each
    hand is free next."""

    def __init__(self, now: datetime) -> None:
        self.now = now
        self.hands: dict[str, Hand] = {}
        self.people: dict[str, Contact] = {}
        self.lots: dict[str, RoughLot] = {}
        self.stones: dict[str, Stone] = {}
        self.gems: dict[str, FinishedGem] = {}
        self.free: dict[str, datetime] = {}
        self.pictures: dict[str, dict[str, bytes]] = {}

    @property
    def owner(self) -> Hand:
        """Who does the shop's own deeds."""
        return self.hands["wren"]

    def morning(self, days_ago: str | int) -> datetime:
        """The hour the bench opens, so many days before the end of the demo\'s year."""
        day = Shop.the().day_of(self.now) - timedelta(days=int(days_ago))
        return datetime.combine(day, OPENS, tzinfo=Shop.the().tzinfo)

    def day(self, at: datetime) -> date:
        """The day on the shop\'s own calendar."""
        return Shop.the().day_of(at)

    def said(self, text: str, on: date, lot: dict[str, str] | None = None) -> dict[str, Any]:
        """A statement as a cell of the tables tells it: question, answer, rung of the ladder, words."""
        question, _, rest = text.partition(" ")
        answer, _, words = rest.partition(" ") if question in {"nature", "treatment"} else ("", "", rest)
        level, _, words = words.partition(" ") if words[:1].isdigit() else (words, "", "")
        level, words = (level or "2"), words.strip()
        tested = level == "3"
        speaker = self.people.get(lot["seller"] or lot["owner"]) if lot else None
        said: dict[str, Any] = {
            "question": question,
            "evidence": int(level),
            "said_by": self.owner.get_full_name() if tested or speaker is None else str(speaker),
            "said_on": on,
            "words": "" if tested else words,
            "how": words if tested else "",
        }
        if question == "nature":
            said |= {"nature": answer}
        elif question == "treatment":
            treated, _, keys = answer.partition(":")
            said |= {"treated": treated, "treatments": keys.split(",") if keys else []}
        elif question == "origin":
            said |= {"words": words}
        elif lot:
            said |= {"material": material_of(lot["material"])}
        return said


def parts_of(text: str, mark: str) -> list[str]:
    """The parts of a cell between two marks."""
    return [part.strip() for part in text.split(mark) if part.strip()]


def material_of(key: str) -> Material:
    """The material with a key."""
    return Material.objects.get(key=key)
