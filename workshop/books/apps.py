"""The books room."""

from django.apps import AppConfig


class BooksConfig(AppConfig):
    """Registers the room with Django."""

    name = "workshop.books"
    label = "books"
    default_auto_field = "django.db.models.BigAutoField"
