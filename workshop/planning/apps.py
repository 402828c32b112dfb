"""The planning room."""

from django.apps import AppConfig


class PlanningConfig(AppConfig):
    """Registers the room with Django."""

    name = "workshop.planning"
    label = "planning"
    default_auto_field = "django.db.models.BigAutoField"
