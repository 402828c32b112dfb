"""The papers room."""

from django.apps import AppConfig


class PapersConfig(AppConfig):
    """Registers the room with Django."""

    name = "workshop.papers"
    label = "papers"
    default_auto_field = "django.db.models.BigAutoField"
