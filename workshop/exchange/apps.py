"""The exchange room."""

from django.apps import AppConfig


class ExchangeConfig(AppConfig):
    """Registers the room with Django."""

    name = "workshop.exchange"
    label = "exchange"
    default_auto_field = "django.db.models.BigAutoField"
