"""The stones room."""

from django.apps import AppConfig


class StonesConfig(AppConfig):
    """Registers the room with Django."""

    name = "workshop.stones"
    label = "stones"
    default_auto_field = "django.db.models.BigAutoField"
