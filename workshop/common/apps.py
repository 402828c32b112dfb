"""The common room."""

from django.apps import AppConfig


class CommonConfig(AppConfig):
    """Registers the room with Django."""

    name = "workshop.common"
    label = "common"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from . import checks  # noqa: F401
