"""What a sentence or a caution needs to know of a material: its name and what it does."""

from __future__ import annotations

from workups.grading.exercise import Exercise


def material_name(key: str, exercise: Exercise) -> str:
    """The name of a material: the exercise's own first, then the tables' name."""
    own = {material.key: material.name for material in exercise.setup.own_materials}
    return own.get(key) or key.replace("_", " ")
