"""The people room."""

from django.apps import AppConfig


class PeopleConfig(AppConfig):
    """Registers the room with Django."""

    name = "workshop.people"
    label = "people"
    default_auto_field = "django.db.models.BigAutoField"
