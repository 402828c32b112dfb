"""Oil or wax that went into a stone's fissures at the bench: the cutter who put it there has treated the stone.

Sources: cutting oil gets into fissures, and who uses it on purpose has treated the stone
<https://cdgemtestinglab.com/clarity-enhancement/>, <https://gemsnfashions.com/treatments-of-gemstone/>; a cutter was
sued over an emerald whose oil washed out in repair <https://www.gemsociety.org/article/repair-work-gemstones/>.
"""

from __future__ import annotations

from datetime import datetime

from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.materials.models import Evidence, Question, Treated

from ..models import Stone, StoneStatement
from .notes import state_about_stone

FILLED = "oil"


def say_filled(stone: Stone, how: str, *, said_by: str, by: Hand | None, at: datetime) -> StoneStatement:
    """State in the cutter's own name that oil or wax went into fissures and stayed: which, where, how much.

    Whoever said before that nothing was done spoke of an earlier day; that answer no longer holds.
    """
    if not how.strip():
        raise DeedRefused("Say what went in, where, and how much of it stayed.", field="oil_how")
    with write_tx():
        said = {
            "question": Question.TREATMENT,
            "treated": Treated.TREATED,
            "treatments": [FILLED],
            "evidence": Evidence.TESTED,
            "said_by": said_by or (by.get_username() if by else "the cutter"),
            "said_on": Shop.the().day_of(at),
            "how": f"put in while it was cut: {how.strip()}",
        }
        return state_about_stone(stone, said, by=by, at=at)
