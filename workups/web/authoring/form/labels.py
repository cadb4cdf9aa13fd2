"""What the fields of the author form are called, with words for choices and hints."""

from collections.abc import Mapping

from workups.chemistry.substances import PROPERTIES
from workups.documents.errors import Path
from workups.grading.exercise import CHECK_TITLES

_UNITS = {"C": "°C"}
LABELS: Mapping[str, str] = {
    "title": "Title",
    "key": "Short name",
    "texts.summary": "Summary",
    "reaction.reagent.substance": "Substance",
    "reaction.reagent.role": "Role",
    "reaction.reagent.coefficient": "Coefficient",
    "reaction.reagent.mass_g": "Mass",
    "reaction.reagent.volume_mL": "or volume",
    "reaction.reagent.amount_mmol": "or amount",
    "reaction.reagent.purity": "Purity, mass fraction",
    "reaction.reagent.staff_dispensed": "Measured out by",
    "reaction.reagent.composition": "Composition, if it is no single substance",
    "reaction.product.substance": "Substance",
    "reaction.product.coefficient": "Coefficient",
    "reaction.conversion.low": "Low",
    "reaction.conversion.nominal": "Expected",
    "reaction.conversion.high": "High",
    "start_phase": "On its own the mixture is",
    "start_C": "Temperature of the mixture",
    "room_C": "Temperature of the room",
    "salting": "Dissolved salt drives substances out of the water",
    "cosolvent": "A water-miscible solvent holds substances in the water",
    "slow_reaction.substrate": "What reacts",
    "slow_reaction.kind": "Driven by",
    "slow_reaction.products": "What it makes, mol per mol",
    "slow_reaction.k_L_mol_s.value": "Rate constant",
    "slow_reaction.k_L_mol_s.unit": "Unit",
    "slow_reaction.k_L_mol_s.uncertainty": "Standard uncertainty",
    "slow_reaction.k_L_mol_s.source": "Source",
    "slow_reaction.k_L_mol_s.grade": "Grade",
    "slow_reaction.k_L_mol_s.note": "Note",
    "materials": "On the bench",
    "glassware.funnel_mL": "Separatory funnel",
    "glassware.balance_readability_g": "Balance reads to",
    "glassware.balance_repeatability_g": "Balance repeats to",
    "own_material.name": "Name",
    "own_material.key": "Short name",
    "own_material.density_g_mL": "Density",
    "own_material.components": "Holds, mmol per mL",
    "own_material.cautions": "Cautions",
    "target.substance": "Substance",
    "target.product_state": "Weighed as",
    "target.recovery_goal": "Recovery goal, 0 to 1",
    "target.water_and_salt_limit": "Water and salt allowed, mass fraction",
    "target.flask": "Weighed in",
    "fixed_portions": "Fixed number of extractions",
    "rubric.drying_plan_share": "Share of the drying points for the plan",
    **{f"rubric.points.{name}": title for name, title in CHECK_TITLES.items()},
    "policy.detail": "Self-check says",
    "policy.attempts": "Self-checks for each student",
    "choice.value": "Value",
    "choice.reason": "Reason shown to students",
    "texts.background": "Background",
    "texts.task": "The task",
    "texts.questions": "Questions for the report",
    "texts.cautions": "Cautions",
    "texts.emergency": "In an emergency with these chemicals",
    "texts.safety_sheet.name": "Of",
    "texts.safety_sheet.url": "Address",
    "sources": "Where the facts come from",
    "substance.name": "Name",
    "substance.key": "Short name",
    "substance.smiles": "Structure, SMILES",
    "substance.cas": "CAS number",
    "substance.molar_mass_g_mol": "Molar mass",
    "substance.charge_top": "Charge with all its protons",
    "substance.classes": "Kinds",
    "substance.hazards": "Hazard statements",
    "substance.source": "Source of structure and molar mass",
    "substance.grade": "Grade of these",
    **{
        f"substance.values.{name}.{field}": f"{known.title[:1].upper()}{known.title[1:]}{words}"
        if name[:3] != "pKa" else f"{known.title}{words}"
        for name, known in PROPERTIES.items()
        for field, words in (
            ("value", "" if known.unit == "1" else f", {_UNITS.get(known.unit, known.unit)}"),
            ("uncertainty", ": standard uncertainty"),
            ("source", ": source"),
            ("grade", ": grade"),
            ("note", ": note"),
        )
    },
    "values.value": "Value",
    "values.unit": "Unit",
    "values.uncertainty": "Standard uncertainty",
    "values.source": "Source",
    "values.grade": "Grade",
    "values.note": "Note",
}

WORDS: Mapping[str, Mapping[str, str]] = {
    "start_phase": {"organic": "an organic liquid", "aqueous": "a solution in water"},
    "reaction.reagent.staff_dispensed": {"yes": "the staff", "no": "the student"},
    "slow_reaction.kind": {"base": "hydroxide", "acid": "acid"},
    "target.product_state": {"oil": "an oil", "solid": "a solid"},
    "policy.detail": {
        "all but the answer": "everything but the answer",
        "which checks": "which checks are not met yet",
        "nothing": "nothing before the deadline",
    },
    "grade": {
        "A": "A: read in a source",
        "B": "B: from memory, to be checked",
        "P": "P: common practice, no source",
    },
}

HELP: Mapping[str, str] = {
    "key": "For files and plans: lower-case letters and digits, words joined by -.",
    "texts.summary": "One or two sentences for lists.",
    "materials": "",
    "title": "",
    "reaction.reagent.role": "",
    "reaction.reagent.coefficient": "",
    "reaction.product.coefficient": "",
    "reaction.reagent.mass_g": "",
    "reaction.reagent.volume_mL": "",
    "reaction.reagent.amount_mmol": "",
    "reaction.reagent.purity": "",
    "reaction.reagent.staff_dispensed": "",
    "reaction.conversion.low": "",
    "reaction.conversion.nominal": "",
    "reaction.conversion.high": "",
    "slow_reaction.k_L_mol_s.value": "At room temperature.",
    "salting": "",
    "cosolvent": "",
    "start_C": "",
    "room_C": "",
    "values.value": "",
    "values.unit": "",
    "values.uncertainty": "",
    "values.source": "",
    "values.note": "",
    **{
        f"substance.values.{name}.{field}": ""
        for name in PROPERTIES
        for field in ("value", "uncertainty", "source", "note")
    },
    "substance.classes": "One a line, such as carboxylic_acid, phenol, amine, ester, ether.",
    "substance.hazards": "One a line, such as H315, from the safety data sheet.",
    **{f"rubric.points.{name}": "" for name in CHECK_TITLES},
    "texts.questions": "One a line.",
    "texts.cautions": "One a line. Say what to do, not only what is dangerous.",
    "texts.emergency": "Shown beside what the course’s settings say for every exercise.",
    "texts.safety_sheet.name": "",
    "texts.safety_sheet.url": "",
    "sources": "One a line: where amounts, conversion and rates were found, or that they are made "
    "up.",
    "reaction.reagent.substance": "Name, CAS number or SMILES.",
    "reaction.product.substance": "Name, CAS number or SMILES.",
    "target.substance": "Name, CAS number or SMILES.",
    "slow_reaction.substrate": "Name, CAS number or SMILES.",
    "slow_reaction.products": "One a line, as in ethanol: 1. What is used up is negative.",
    "own_material.components": "One a line, as in sodium: 1.5.",
    "reaction.reagent.composition": "One a line, as in sodium: 1. Mol of each in a mol.",
    "own_material.key": "Lower-case letters, digits and _, a letter first.",
}


def generic(path: Path) -> str:
    """A path without positions, and without the free key of an own value."""
    words = [part for part in path if isinstance(part, str)]
    if words and words[0] == "values" and len(words) > 2:
        del words[1]
    return ".".join(words)


def label_of(path: Path) -> str:
    return LABELS[generic(path)]


def words_of(path: Path) -> Mapping[str, str]:
    """Words for the choices of a field."""
    name = generic(path)
    return WORDS.get(name) or WORDS.get(name.rpartition(".")[2], {})
