"""The rough room."""

from django.apps import AppConfig


class RoughConfig(AppConfig):
    """Registers the room with Django."""

    name = "workshop.rough"
    label = "rough"
    default_auto_field = "django.db.models.BigAutoField"
