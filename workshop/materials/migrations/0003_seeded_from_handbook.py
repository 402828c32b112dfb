"""A fresh shop knows the handbook's materials and treatments from its first minute."""

from typing import Any

from django.db import migrations


def seed(apps: Any, schema_editor: Any) -> None:
    from workshop.materials.actions import seed_materials

    seed_materials(
        into=apps.get_model("materials", "Material"), treatments=apps.get_model("materials", "Treatment")
    )


class Migration(migrations.Migration):
    dependencies = [("materials", "0002_figures_of_own_materials")]

    operations = [migrations.RunPython(seed, migrations.RunPython.noop)]
