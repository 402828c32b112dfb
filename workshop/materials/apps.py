"""The materials room."""

from django.apps import AppConfig


class MaterialsConfig(AppConfig):
    """Registers the room with Django."""

    name = "workshop.materials"
    label = "materials"
    default_auto_field = "django.db.models.BigAutoField"
