"""The gems room."""

from django.apps import AppConfig


class GemsConfig(AppConfig):
    """Registers the room with Django."""

    name = "workshop.gems"
    label = "gems"
    default_auto_field = "django.db.models.BigAutoField"
