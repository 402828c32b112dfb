"""Words ready to be sent when the work stops: what came up, in plain sentences, from the piece's own figures."""

from __future__ import annotations

from decimal import Decimal

from workshop.common import say
from workshop.stones.models import Stone

from .floors import UnderFloor
from .models import AskWhy, CommissionItem

HOW_NOW = "I have stopped and will not go on before I hear from you. Please tell me how to go on."
#: What is said about each reason, before the figures. A question about cost, a second stone or the design
#: needs no weight.
WHAT: dict[str, str] = {
    AskWhy.INCLUSION: "I have reached an inclusion or a fissure. Cutting it out costs weight; left in, it stays to be "
    "seen.",
    AskWhy.CHIP: "It has chipped. Going on means cutting it smaller, so that the chip is gone.",
    AskWhy.BROKE: "I am sorry: it has come apart in the work. What is left is weighed and kept for you.",
    AskWhy.DESIGN: "Seen as it lies here, another design would suit it better than the one we agreed on.",
    AskWhy.SPECIES: "By what I measured it is not the stone it was thought to be. This is my own finding, not a "
    "laboratory's.",
    AskWhy.TREATMENT: "I have found signs of a treatment. This is my own finding, not a laboratory's; heat and "
    "cleaning may be a risk to such a stone.",
    AskWhy.COLOUR: "Its colour is not what we thought it would be.",
    AskWhy.SIZE: "The size we agreed on will not be met.",
    AskWhy.SECOND: "What was sawn off is large enough for a second, smaller stone.",
    AskWhy.COST: "It takes more work than I quoted for.",
    AskWhy.OTHER: "Something came up that I want you to decide.",
}
WEIGHED = (
    AskWhy.FLOOR, AskWhy.INCLUSION, AskWhy.CHIP, AskWhy.BROKE, AskWhy.SIZE, AskWhy.SECOND, AskWhy.COLOUR,
)  # fmt: skip


def ready_words(
    item: CommissionItem, why: str, *, stone: Stone | None = None, alarm: UnderFloor | None = None
) -> str:
    """The text of a stop-and-ask, to be sent as it is or changed."""
    if why == AskWhy.FLOOR:
        told = [_floor(item, stone, alarm)]
    else:
        told = [WHAT.get(why, WHAT[AskWhy.OTHER])]
        if stone is not None and why in WEIGHED and not stone.on_dop:
            told.append(f"It weighs {_ct(stone.weight_ct)} now.")
        if item.floor_ct is not None and why in WEIGHED:
            told.append(f"We agreed that I ask you before it falls below {_ct(item.floor_ct)}.")
    return " ".join([*told, HOW_NOW])


def _floor(item: CommissionItem, stone: Stone | None, alarm: UnderFloor | None) -> str:
    floor = f"We agreed that I ask you before it falls below {_ct(item.floor_ct)}." if item.floor_ct else ""
    if alarm is not None and alarm.plan is not None:
        low, middle = _ct(alarm.plan.weight_low_ct), _ct(alarm.plan.weight_ct)
        return (
            f"As I plan it now, it will end at about {middle}, and may end as low as {low}. {floor}".strip()
        )
    weight = alarm.found_ct if alarm is not None else stone.weight_ct if stone is not None else None
    now = (
        f"It weighs {_ct(weight)} now."
        if weight is not None
        else "It will fall below the weight we agreed on."
    )
    return f"{now} {floor}".strip()


def _ct(weight: Decimal | None) -> str:
    return say.carats(weight, 2).replace(say.GAP, " ")
