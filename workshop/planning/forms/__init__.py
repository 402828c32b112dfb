"""From what is typed on a planning page to typed values."""

from .asks import AskForm
from .budget import DepthForm
from .piece import ChooseForm, PieceForm
from .recut import RecutForm

__all__ = ["AskForm", "ChooseForm", "DepthForm", "PieceForm", "RecutForm"]
