"""The materials room."""

from django.apps import AppConfig


class MaterialsConfig(AppConfig):
    """Registers the room with Django."""

    name = "workshop.materials"
    label = "materials"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """The shop's own line on papers is held against this room's rules."""
        from workshop.common import public_words

        from .public import faults_of_any_stone

        public_words.add_check(faults_of_any_stone)
