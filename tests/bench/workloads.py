"""Exercises and plans of a chosen size to measure on: so many substances, so many steps."""

from __future__ import annotations

from workups.chemistry.plan import (
    START_FLASK,
    WASTE,
    Add,
    Dry,
    Extract,
    Filter,
    Plan,
    Separate,
    Step,
    Strip,
    Tare,
    Wash,
    Weigh,
)
from workups.chemistry.setup import Reaction, Reagent, Setup, Target
from workups.chemistry.tables import tables

MATERIALS = ("diethyl_ether", "water", "nahco3_5pct", "hcl_1m", "brine", "magnesium_sulfate")
# Acids, bases, an ampholyte and carbonate: eight that all take part in the charge balance.
EIGHT = ("benzoic_acid", "phenol", "aniline", "triethylamine", "acetic_acid", "citric_acid",
         "salicylic_acid", "carbon_dioxide")


def exercise_of(substances: int, each_mmol: float = 5.0) -> Setup:
    """A mixture of so many substances: the eight first, then others in the table's order."""
    used_anyway = {"water", "carbon_dioxide", "diethyl_ether"}
    others = sorted(k for k, s in tables().substances.items()
                    if k not in EIGHT and k not in used_anyway and "solvent" not in s.classes)
    keys = [*EIGHT, *others][:substances]
    if len(keys) < substances:
        raise ValueError(f"the table has only {len(keys)} substances to mix")
    return Setup(
        Reaction(tuple(Reagent(k, "mixture", 0.0, amount_mmol=each_mmol) for k in keys)),
        (Target(keys[0]),), MATERIALS)


def twelve_steps() -> Plan:
    """Ether and water in, part, extract, three washes, dry, filter, strip, weigh."""
    kept = {"keep": "upper", "keep_in": "A", "other_in": WASTE}
    return Plan((
        Add(id="ether", flask=START_FLASK, material="diethyl_ether", volume_mL=40.0),
        Add(id="water", flask=START_FLASK, material="water", volume_mL=30.0),
        Separate(id="part", flask=START_FLASK, keep="upper", keep_in="A", other_in="B"),
        Extract(id="extract", flask="B", material="diethyl_ether", volume_mL=20.0, portions=2,
                **kept),
        Wash(id="base", flask="A", material="nahco3_5pct", volume_mL=25.0, **kept),
        Wash(id="again", flask="A", material="water", volume_mL=15.0, **kept),
        Wash(id="brine", flask="A", material="brine", volume_mL=20.0, **kept),
        Dry(id="dry", flask="A", agent="magnesium_sulfate"),
        Tare(id="tare", flask="C"),
        Filter(id="filter", flask="A", into="C", rinse_with="diethyl_ether", rinse_mL=5.0,
               rinses=2),
        Strip(id="strip", flask="C", pressure_mbar=600.0),
        Weigh(id="weigh", flask="C"),
    ))


def so_many_steps(steps: int) -> Plan:
    """So many times four steps: ether in, water in, part, wash. So every size has the same mix."""
    repeated: list[Step] = []
    flask = START_FLASK
    for i in range(steps // 4):
        kept = {"keep": "upper", "keep_in": "A", "other_in": WASTE}
        repeated += [
            Add(id=f"ether {i}", flask=flask, material="diethyl_ether", volume_mL=20.0),
            Add(id=f"water {i}", flask=flask, material="water", volume_mL=20.0),
            Separate(id=f"part {i}", flask=flask, **kept),
            Wash(id=f"wash {i}", flask="A", material="nahco3_5pct", volume_mL=20.0, **kept),
        ]
        flask = "A"
    return Plan(tuple(repeated))
