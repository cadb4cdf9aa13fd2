"""Ranges, choices and help for the fields of an exercise and of a bench record.

The fields themselves, their types and defaults are those of the dataclasses; a test checks that
every rule belongs to a field and that every field has its help.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from workups.chemistry.plan import Plan
from workups.chemistry.quantity import GRADES, Quantity
from workups.chemistry.readings import (
    AGENT_LOOKS,
    LIQUID_LOOKS,
    MARKS,
    ON_PAN,
    PART_USES,
    WITNESS_KINDS,
    DoneStep,
    DryingRecord,
    Readings,
    SamplePart,
    TargetReadings,
    Weighing,
    Witness,
)
from workups.chemistry.setup import (
    Glassware,
    OwnMaterial,
    Product,
    Reaction,
    Reagent,
    Setup,
    SlowReaction,
    Spread,
    Target,
)
from workups.chemistry.substances import (
    PROPERTIES,
    SUBSTANCE_CLASSES,
    Antoine,
    Substance,
)
from workups.grading.exercise import (
    CHECKS,
    FEEDBACK_DETAILS,
    Choice,
    Exercise,
    FeedbackPolicy,
    Rubric,
    SafetySheet,
    Texts,
)
from workups.grading.settings import SETTINGS

from .limits import (
    FLASK_LENGTH,
    KEY_LENGTH,
    LINE_LENGTH,
    MAX_ITEMS,
    MAX_STEPS,
    NOTE_LENGTH,
    PROSE_LENGTH,
)

ID_PATTERN = r"[A-Za-z0-9_-]+"
EXERCISE_KEY_PATTERN = r"[a-z0-9]+(-[a-z0-9]+)*"
OWN_KEY_PATTERN = r"[a-z][a-z0-9_]*"
SUBSTANCE_KEY_PATTERN = r"[a-z0-9][a-z0-9_]*"


@dataclass(frozen=True)
class Rule:
    """What a dataclass field alone does not say about its value."""

    help: str = ""
    low: float | None = None
    high: float | None = None
    unit: str = ""
    choices: tuple[str, ...] = ()
    role: str = ""
    key_role: str = ""
    key_choices: tuple[str, ...] = ()
    pattern: str = ""
    says: str = ""
    filled: bool = False
    lines: bool = True
    max_length: int = NOTE_LENGTH
    max_items: int = MAX_ITEMS
    written: str = ""
    flat: bool = False
    columns: tuple[str, ...] = ()


def _line(help: str, filled: bool = False) -> Rule:
    return Rule(help, lines=False, max_length=LINE_LENGTH, filled=filled)


def _prose(help: str) -> Rule:
    return Rule(help, max_length=PROSE_LENGTH)


def _one_of(help: str, choices: tuple[str, ...]) -> Rule:
    return Rule(help, choices=choices, lines=False, max_length=KEY_LENGTH)


def _step_id(help: str, filled: bool = True) -> Rule:
    return Rule(help, filled=filled, lines=False, max_length=KEY_LENGTH,
                pattern=ID_PATTERN if filled else f"({ID_PATTERN})?",
                says="a name of letters, digits, - and _")


def _substance(help: str, role: str = "substance") -> Rule:
    return Rule(help, role=role, filled=True, lines=False, max_length=KEY_LENGTH)


RULES: Mapping[type, Mapping[str, Rule]] = {
    Exercise: {
        "key": Rule("short name of the exercise, used in file names and by plans and readings",
                    pattern=EXERCISE_KEY_PATTERN, filled=True, lines=False, max_length=KEY_LENGTH,
                    says="a name of lower-case letters and digits, words joined by -"),
        "title": _line("title that students see", filled=True),
        "setup": Rule("the chemistry", flat=True),
        "model_plan": Rule("the instructor's own route, one of the right ones"),
        "alternatives": Rule("other routes known to be right", written="alternative",
                             max_items=12),
        "rubric": Rule("points"),
        "policy": Rule("what self-check says before the deadline"),
        "choices": Rule("settings on which instructors differ", written="choice"),
        "priors": Rule("how likely an explanation of odd readings is before they are seen, "
                       "relative to the others, by its key", low=0, high=1000),
        "texts": Rule("what students read"),
        "fixed_portions": Rule("a fixed number of extractions instead of a recovery goal",
                               low=1, high=12),
        "sources": Rule("where the facts come from", max_length=LINE_LENGTH, filled=True),
    },
    Setup: {
        "reaction": Rule("the reaction that was run before the workup"),
        "targets": Rule("the products to be isolated", written="target", max_items=10),
        "materials": _substance("keys of the solvents, solutions and drying agents on the bench",
                                "material"),
        "own_materials": Rule("solutions that this exercise defines for itself",
                              written="own_material", max_items=20),
        "own_substances": Rule("substances that are not in the tables, for this exercise",
                               written="substance", max_items=12),
        "glassware": Rule("what the student works with"),
        "start_phase": _one_of("the phase the starting mixture forms on its own",
                               ("organic", "aqueous")),
        "start_C": Rule("temperature of the starting mixture", low=-80, high=250, unit="°C"),
        "room_C": Rule("temperature of the room", low=5, high=40, unit="°C"),
        "values": Rule("the instructor's own values, by name: log10_K:SUBSTANCE:SOLVENT, "
                       "pKa1:SUBSTANCE, log10_Kip:SUBSTANCE:ION:SOLVENT (a base that leaves as "
                       "an ion pair, L/mol), or the name of a practice value"),
        "slow_reactions": Rule("reactions that go on in the funnel", written="slow_reaction",
                               max_items=10),
        "salting": Rule("dissolved salt drives substances out of the water layer"),
        "cosolvent": Rule("a water-miscible solvent holds substances in the water layer"),
    },
    Reaction: {
        "reagents": Rule("the reagent table", written="reagent", max_items=20),
        "products": Rule("what the reaction makes; none for a separation", written="product",
                         max_items=10),
        "conversion": Rule("share of the limiting reagent turned into products, 0 to 1"),
    },
    Reagent: {
        "substance": Rule("key of the substance, or a free name where composition is given",
                          filled=True, lines=False, max_length=KEY_LENGTH),
        "role": _line("what it is there for, such as reactant, catalyst, solvent", filled=True),
        "coefficient": Rule("coefficient in the equation, 0 for a catalyst or solvent",
                            low=0, high=20),
        "mass_g": Rule("planned mass", low=0, high=1000, unit="g"),
        "volume_mL": Rule("planned volume", low=0, high=2000, unit="mL"),
        "amount_mmol": Rule("planned amount", low=0, high=10_000, unit="mmol"),
        "purity": Rule("mass fraction of the substance itself", low=0.001, high=1),
        "composition": Rule("how many mol of each component in a mol, for a salt or a "
                            "mixture",
                            key_role="component", low=-20, high=60, max_items=20),
        "staff_dispensed": Rule("measured out by the staff, not by the student"),
    },
    Product: {
        "substance": _substance("key of the product", "reagent"),
        "coefficient": Rule("coefficient in the equation", low=0, high=20),
    },
    Spread: {
        "low": Rule("5th percentile of careful work"),
        "nominal": Rule("what is expected"),
        "high": Rule("95th percentile of careful work"),
    },
    Target: {
        "substance": _substance("key of the substance to be isolated"),
        "flask": Rule("the flask it is weighed in; empty: wherever the plan weighs it",
                      lines=False, max_length=FLASK_LENGTH),
        "recovery_goal": Rule("share of what was there before the extraction that is enough",
                              low=0, high=1),
        "water_and_salt_limit": Rule("mass fraction of water, salt and drying agent allowed in "
                                     "the weighed product", low=0, high=1),
        "product_state": _one_of("what is weighed", ("oil", "solid")),
    },
    OwnMaterial: {
        "key": Rule("name used in plans", pattern=OWN_KEY_PATTERN, filled=True, lines=False,
                    max_length=KEY_LENGTH,
                    says="a name of lower-case letters, digits and _, a letter first"),
        "name": _line("name that students see", filled=True),
        "density_g_mL": Rule("density", low=0.3, high=4, unit="g/mL"),
        "components": Rule("how much of each component, in mmol per mL; the rest is "
                           "water", low=0, high=60,
                           key_role="component", max_items=20),
        "cautions": Rule("what to be careful about"),
    },
    Substance: {
        "key": Rule("name used in this exercise; not one of the tables",
                    pattern=SUBSTANCE_KEY_PATTERN, filled=True, lines=False,
                    max_length=KEY_LENGTH,
                    says="a name of lower-case letters, digits and _"),
        "name": _line("name that students see", filled=True),
        "molar_mass": Rule("molar mass of the neutral form", low=1, high=5000, unit="g/mol",
                           written="molar_mass_g_mol"),
        "source": _line("where structure and molar mass come from", filled=True),
        "grade": _one_of("A read in a source, B from memory, P common practice", GRADES),
        "cas": Rule("CAS number", pattern=r"(\d{2,7}-\d{2}-\d)?", lines=False,
                    max_length=KEY_LENGTH, says="a CAS number such as 50-00-0, or nothing"),
        "smiles": _line("structure in SMILES notation"),
        "charge_top": Rule("charge with all its protons: 0 for an acid or a neutral substance, 1 "
                           "for an amine", low=-3, high=3),
        "classes": Rule("what kind of substance it is; ionisable: gives off or takes up a proton "
                        "in some other way than as a carboxylic acid, phenol or amine",
                        choices=SUBSTANCE_CLASSES),
        "hazards": Rule("hazard statements", pattern=r"(H|EUH)\d{3}[A-Za-z]{0,3}", lines=False,
                        max_length=KEY_LENGTH, says="a hazard statement such as H315",
                        max_items=40),
        "values": Rule("constants by name: pKa1, pKa2, pKa3, log_kow, melting_point and others",
                       key_choices=tuple(PROPERTIES)),
        "partition": Rule("log10 of the partition coefficient of the neutral form, solvent over "
                          "water, by solvent", written="log10_K", key_role="extraction solvent"),
        "antoine": Rule("vapour pressure: log10(P/Pa) = A - B/(T/K + C); without it nothing of "
                        "it goes with the vapour"),
    },
    Antoine: {
        "A": Rule("A", low=-20, high=40),
        "B": Rule("B", low=0, high=20_000, unit="K"),
        "C": Rule("C", low=-500, high=500, unit="K"),
        "T_min_K": Rule("lowest temperature it holds for", low=50, high=1500, unit="K"),
        "T_max_K": Rule("highest temperature it holds for", low=50, high=1500, unit="K"),
        "uncertainty_pct": Rule("standard uncertainty of the pressure", low=0, high=100,
                                unit="%"),
        "source": _line("where it comes from", filled=True),
        "grade": _one_of("A read in a source, B from memory, P common practice", GRADES),
    },
    SlowReaction: {
        "substrate": _substance("key of the substance that reacts"),
        "kind": _one_of("what drives it", ("base", "acid")),
        "k_L_mol_s": Rule("rate constant at room temperature, a teaching estimate"),
        "products": Rule("how many mol of each are made per mol of substrate; negative: "
                         "used up",
                         key_role="component", low=-20, high=20, max_items=10),
    },
    Glassware: {
        "funnel_mL": Rule("capacity of the separatory funnel", low=10, high=5000, unit="mL"),
        "balance_readability_g": Rule("smallest digit of the balance", low=1e-6, high=1,
                                      unit="g"),
        "balance_repeatability_g": Rule("standard deviation of one weighing; not given: equal to "
                                        "the readability", low=0, high=1, unit="g"),
    },
    Quantity: {
        "value": Rule("the value"),
        "unit": _line("its unit, 1 for a pure number", filled=True),
        "uncertainty": Rule("standard uncertainty in the same unit", low=0),
        "source": _line("where it comes from", filled=True),
        "grade": _one_of("A read in a source, B from memory, P common practice", GRADES),
        "note": Rule("anything to know about it"),
    },
    Plan: {"steps": Rule("the steps in order", written="step", max_items=MAX_STEPS)},
    Rubric: {
        "points": Rule("points of each check; 0: shown, not counted", low=0, high=1000,
                       key_choices=CHECKS),
        "drying_plan_share": Rule("share of the drying points for the plan, the rest for the "
                                  "bench", low=0, high=1),
    },
    FeedbackPolicy: {
        "detail": _one_of("what self-check says", FEEDBACK_DETAILS),
        "attempts": Rule("how often a student may self-check, 0: as often as wanted",
                         low=0, high=1000),
    },
    Choice: {
        "key": _one_of("name of the setting", tuple(SETTINGS)),
        "value": _line("what was chosen", filled=True),
        "reason": Rule("why, shown to students"),
    },
    Texts: {
        "summary": _prose("one or two sentences for lists"),
        "background": _prose("what the exercise is about"),
        "task": _prose("what the student has to do"),
        "cautions": Rule("cautions for this exercise", max_items=40),
        "questions": Rule("questions to answer in the report", max_items=40),
        "emergency": Rule("what to do in an emergency with these chemicals, beside what the "
                          "course says"),
        "safety_sheets": Rule("safety data sheets of what is used", written="safety_sheet",
                              max_items=40),
    },
    SafetySheet: {
        "name": _line("what the sheet is of", filled=True),
        "url": Rule("where it is", pattern=r"https?://[^\s<>\"']+", filled=True, lines=False,
                    max_length=NOTE_LENGTH,
                    says="a web address that starts with https:// or http://"),
    },
    Readings: {
        "steps": Rule("what was done at each step", written="step", max_items=2 * MAX_STEPS),
        "reagents": Rule("amounts really used, by substance, in the unit of the reagent table",
                         low=0, high=10_000, key_role=""),
        "targets": Rule("weighings and signs of identity, by target", written="target",
                        max_items=10),
        "drying": Rule("what was seen at each drying step"),
        "volumes": Rule("volumes seen", written="volume", low=0, high=10_000, unit="mL",
                        columns=("step", "flask", "volume_mL")),
    },
    DoneStep: {
        "step": Rule("the step with the amounts really used; the planned one if skipped",
                     flat=True),
        "mark": _one_of("how the step went", MARKS),
        "after": _step_id("for an added step, the id of the step it came after", filled=False),
        "remark": Rule("the student's remark"),
    },
    TargetReadings: {
        "weighings": Rule("readings of the balance in the order taken", written="weighing",
                          max_items=40),
        "witnesses": Rule("signs of identity or purity", written="witness", max_items=20),
        "explanation": Rule("the student's explanation of an odd result"),
        "parts": Rule("parts taken out before the gross reading", written="part", max_items=20),
    },
    SamplePart: {
        "use": _one_of("where the part went", PART_USES),
        "empty_g": Rule("its vial empty; 0 where the balance was tared", low=-1000, high=10_000,
                        unit="g"),
        "full_g": Rule("its vial with the part", low=-1000, high=10_000, unit="g"),
        "readability_g": Rule("smallest digit of the balance", low=1e-6, high=1, unit="g"),
        "text": Rule("what for, or whose"),
    },
    Weighing: {
        "kind": _one_of("empty (tare) or with the product (gross)", ("tare", "gross")),
        "mass_g": Rule("what the balance showed", low=-1000, high=10_000, unit="g"),
        "flask_number": _line("number on the flask"),
        "balance": _line("number of the balance"),
        "readability_g": Rule("smallest digit of the balance", low=1e-6, high=1, unit="g"),
        "on_pan": _one_of("everything that was on the pan", ON_PAN),
        "minute": Rule("when, in minutes from the start", low=0, high=100_000, unit="min"),
    },
    DryingRecord: {
        "step": _step_id("id of the drying step"),
        "agent_mass_g": Rule("drying agent used in all", low=0, high=1000, unit="g"),
        "portions": Rule("number of portions", low=0, high=100),
        "agent_look": _one_of("how the drying agent looked", ("", *AGENT_LOOKS)),
        "liquid_look": _one_of("how the liquid looked", ("", *LIQUID_LOOKS)),
        "minutes": Rule("how long it stood", low=0, high=20_000, unit="min"),
    },
    Witness: {
        "kind": _one_of("what was looked at", WITNESS_KINDS),
        "text": Rule("what was seen"),
        "low_C": Rule("beginning of the melting range", low=-100, high=400, unit="°C"),
        "high_C": Rule("end of the melting range", low=-100, high=400, unit="°C"),
        "agrees": Rule("whether it agrees with the expected product"),
    },
}
