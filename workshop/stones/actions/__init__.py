"""What people do with stones, a verb each. One transaction and one journal line a deed."""

from .fissures import say_filled
from .lots import GroupSpec, charge_lot, correct_lot_weight, draw_stone, lose_from_lot, sort_lot
from .notes import add_note, add_stone_photo, buy_from_owner, charge_stone, said_about, state_about_stone
from .sharing import fix_cost
from .splits import split_stone
from .stages import (
    break_stone,
    describe_stone,
    end_stone,
    go_back,
    hand_to_owner,
    move_on,
    resume,
    take_back_step,
    take_up_again,
    wait_for,
)
from .times import (
    add_time,
    correct_time,
    keep_time,
    start_clock,
    stop_clock,
    strike_time,
    usual_activity,
)
from .weights import correct_weight, note_dop_reading, record_weight

__all__ = [
    "GroupSpec",
    "add_note",
    "add_stone_photo",
    "add_time",
    "break_stone",
    "buy_from_owner",
    "charge_lot",
    "charge_stone",
    "correct_lot_weight",
    "correct_time",
    "correct_weight",
    "describe_stone",
    "draw_stone",
    "end_stone",
    "fix_cost",
    "go_back",
    "hand_to_owner",
    "keep_time",
    "lose_from_lot",
    "move_on",
    "note_dop_reading",
    "record_weight",
    "resume",
    "said_about",
    "say_filled",
    "sort_lot",
    "split_stone",
    "start_clock",
    "state_about_stone",
    "stop_clock",
    "strike_time",
    "take_back_step",
    "take_up_again",
    "usual_activity",
    "wait_for",
]
