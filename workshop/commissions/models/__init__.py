"""Commissions: from the enquiry to the delivered stone, with quotes that hold.

The law of a commission's money: charged − paid + refunded = balance. Goods of a client stay the client's.
"""

from .account import Charge, ChargeKind, CommissionPayment, PaidAs, PaidBy
from .commission import (
    CLOSED,
    ON_CLIENTS_GOODS,
    Commission,
    CommissionItem,
    CommissionPhoto,
    CommissionQuerySet,
    ItemStone,
    OffCuts,
    Outcome,
    State,
    WorkKind,
)
from .delivery import Delivery
from .intake import Intake, IntakePhoto, IntakePiece, Mark, ToldTreatment
from .invoice import CommissionInvoice, InvoicedCharge
from .quote import Quote, QuoteLine, QuoteQuerySet, QuoteState
from .talk import (
    AskWhy,
    CalendarLink,
    ClientLink,
    Message,
    MessageState,
    Moment,
    StopAsk,
    StopAskQuerySet,
    WrongAddress,
)
from .tariff import Extra, LineKind, Tariff, TariffLine, TariffQuerySet, WeighedAs
from .week import BenchHours

__all__ = [
    "CLOSED", "ON_CLIENTS_GOODS", "AskWhy", "BenchHours", "CalendarLink", "Charge", "ChargeKind", "ClientLink",
    "Commission", "CommissionInvoice", "CommissionItem", "CommissionPayment", "CommissionPhoto",
    "CommissionQuerySet", "Delivery", "Extra", "Intake", "IntakePhoto", "IntakePiece", "InvoicedCharge",
    "ItemStone", "LineKind", "Mark", "Message", "MessageState", "Moment", "OffCuts", "Outcome", "PaidAs", "PaidBy",
    "Quote", "QuoteLine", "QuoteQuerySet", "QuoteState", "State", "StopAsk", "StopAskQuerySet", "Tariff",
    "TariffLine", "TariffQuerySet", "ToldTreatment", "WeighedAs", "WorkKind", "WrongAddress",
]  # fmt: skip
