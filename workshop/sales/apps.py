"""The sales room."""

from django.apps import AppConfig


class SalesConfig(AppConfig):
    """Registers the room with Django."""

    name = "workshop.sales"
    label = "sales"
    default_auto_field = "django.db.models.BigAutoField"
