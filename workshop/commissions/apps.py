"""The commissions room."""

from django.apps import AppConfig


class CommissionsConfig(AppConfig):
    """Registers the room with Django."""

    name = "workshop.commissions"
    label = "commissions"
    default_auto_field = "django.db.models.BigAutoField"
