"""What the simulation leaves out: what it is, how much it may matter, which exercises it touches.

One list. The page for everybody shows all of it with the library's exercises beside each; an author
is told what touches the own exercise. Sizes are of what is left out, not of the whole: an estimate
without a source is said to be one. Whoever puts an effect into the simulation takes it out here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from workups.chemistry.inventory import partition_quantity
from workups.chemistry.kinds import bottle
from workups.chemistry.plan import Step
from workups.chemistry.setup import Setup
from workups.chemistry.substances import IONISABLE_CLASSES, Substance
from workups.exercise.exercise import Exercise

ESTIMATE = "an estimate, no source"


@dataclass(frozen=True)
class LeftOut:
    """An effect that is not computed.

    ``size`` says what it may change and by how much, ``source`` where that is from, ``where`` in
    words which exercises it touches, ``touches`` tells of one.
    """

    key: str
    title: str
    what: str
    size: str
    source: str
    where: str
    touches: Callable[[Exercise], bool]


def left_out_of(exercise: Exercise) -> tuple[LeftOut, ...]:
    """What is left out that touches an exercise, in the order of the list."""
    return tuple(effect for effect in LEFT_OUT if effect.touches(exercise))


def _steps(exercise: Exercise) -> tuple[Step, ...]:
    return tuple(s for plan in (exercise.model_plan, *exercise.alternatives) for s in plan.steps)


def _verbs(exercise: Exercise) -> set[str]:
    return {step.verb for step in _steps(exercise)}


def _targets(setup: Setup) -> tuple[Substance, ...]:
    return tuple(setup.tables.substances[t.substance] for t in setup.targets)


def _solvents(setup: Setup) -> tuple[str, ...]:
    return tuple(key for key in setup.materials if key in setup.tables.solvents)


def _shakes(exercise: Exercise) -> bool:
    return any(step.layers() for step in _steps(exercise))


def _reacts(exercise: Exercise) -> bool:
    return bool(exercise.setup.reaction.products)


def _has_salt(exercise: Exercise) -> bool:
    return any(bottle(key, exercise.setup).salt_mol_L > 0.1 for key in exercise.setup.materials)


def _K_is_estimated(exercise: Exercise) -> bool:
    setup = exercise.setup
    found = [partition_quantity(target, solvent, setup)
             for target in _targets(setup) for solvent in _solvents(setup)]
    return any(q is not None and q.grade != "A" for q in found)


def _is_cold(exercise: Exercise) -> bool:
    return any(getattr(step, "on_ice", False) or step.verb == "cool" for step in _steps(exercise))


def _base_and_halogenated(exercise: Exercise) -> bool:
    setup = exercise.setup
    halogenated = any(setup.tables.solvents[s].halogenated for s in _solvents(setup))
    bases = any(substance.charge_top > 0 for substance in _present(setup))
    return halogenated and bases


def _present(setup: Setup) -> tuple[Substance, ...]:
    keys = [r.substance for r in setup.reaction.reagents]
    keys += [p.substance for p in setup.reaction.products]
    return tuple(setup.tables.substances[k] for k in keys if k in setup.tables.substances)


def _zwitterion(exercise: Exercise) -> bool:
    return any(substance.charge_top > 0 and len(substance.pKa) > 1
               and substance.classes & {"carboxylic_acid", "phenol"}
               for substance in _present(exercise.setup))


def _falls_apart(exercise: Exercise) -> bool:
    return bool(exercise.setup.reactions)


def _has_cosolvent(exercise: Exercise) -> bool:
    setup = exercise.setup
    keys = {*setup.materials, *(s.key for s in _present(setup))}
    return any("cosolvent" in setup.tables.substances[k].classes
               for k in keys if k in setup.tables.substances)


def _gives_gas(exercise: Exercise) -> bool:
    return any(bottle(key, exercise.setup).is_carbonate for key in exercise.setup.materials)


def _is_solid(exercise: Exercise) -> bool:
    return any(target.product_state == "solid" for target in exercise.setup.targets)


def _goes_bad(exercise: Exercise) -> bool:
    return any(s.classes & {"aldehyde", "phenol", "amine", "alkene"}
               for s in _targets(exercise.setup))


def _acid_or_base(exercise: Exercise) -> bool:
    return any(s.classes & IONISABLE_CLASSES for s in _targets(exercise.setup))


LEFT_OUT: tuple[LeftOut, ...] = (
    LeftOut(
        "estimated-K", "Partition that nobody measured",
        "Most partition coefficients are estimated from the structure and log Kow, not measured.",
        "One in three is off by more than a factor of two to three in K (standard uncertainty 0.30 "
        "to 0.45 in log10 K); of acids, phenols, amides and primary amines hardly any were "
        "compared. The band counts it.",
        "126 measured values, compared by the program's own bench",
        "Every exercise with a product whose K was not read in a table", _K_is_estimated),
    LeftOut(
        "temperature-of-constants", "K and pKa on ice",
        "Partition coefficients, pKa and mutual solubilities are those of 20 to 25 °C, also in an "
        "ice bath.",
        "The pKa of an amine is some 0.6 higher at 0 °C (0.03 per K), that of a carboxylic acid "
        "hardly moves; K changes by 10 to 30 %.",
        ESTIMATE, "Exercises that cool or work on ice, with amines above all",
        lambda exercise: _is_cold(exercise) and _acid_or_base(exercise)),
    LeftOut(
        "activities", "Ions see each other",
        "Activities are taken as concentrations.",
        "The pH in salt solutions is right to about 0.3; what is extracted changes only within "
        "that much of a pKa.",
        "comparison with a model of activities in 0.6 mol/L salt",
        "Exercises with salt, acid or base in the water", _has_salt),
    LeftOut(
        "emulsions", "Emulsions",
        "Layers part cleanly, after the time that is given them.",
        "An emulsion that is drained through takes 5 to 30 % of the product along; otherwise it "
        "costs time.",
        ESTIMATE, "Every exercise with a funnel; most likely after hard shaking with base",
        _shakes),
    LeftOut(
        "mixing", "A hurried shake",
        "Each shake is taken to reach equilibrium.",
        "Layers that were hardly mixed give 5 to 40 % less. The diagnosis asks for it when less is "
        "weighed; a plan is never charged for it.",
        ESTIMATE, "Every exercise with a funnel", _shakes),
    LeftOut(
        "by-products", "What else the reaction makes",
        "The reaction gives what its equation says and leaves the rest unchanged: no by-products, "
        "isomers, tar or colour.",
        "A few to 30 % of the mass in the flask, and the purity of what is weighed.",
        ESTIMATE, "Every exercise that begins with a reaction", _reacts),
    LeftOut(
        "decomposition", "What heat, air and light do",
        "Nothing is decomposed by heat or changed by air or light.",
        "Next to nothing in an afternoon for most; aldehydes, phenols and aromatic amines that "
        "stand warm and open lose some per cent or turn brown.",
        ESTIMATE, "Exercises whose product is an aldehyde, a phenol, an amine or an alkene",
        _goes_bad),
    LeftOut(
        "interface", "Reactions at the interface",
        "Slow reactions go on in the water layer only; what happens where the layers meet is left "
        "out, and how much is dissolved there decides.",
        "A factor of three either way in what an ester or acetal loses to a wash, beside the rate "
        "itself.",
        ESTIMATE, "Exercises in which a wash slowly destroys the product", _falls_apart),
    LeftOut(
        "cosolvent", "Solvents that mix with water",
        "What ethanol, THF, DMF and their like do to K is one rule for all of them.",
        "A factor of two in K with a tenth of such a solvent in the water, more with more.",
        ESTIMATE, "Exercises in which one is charged or on the bench", _has_cosolvent),
    LeftOut(
        "ion-pairs", "Salts that an organic solvent takes up",
        "The salt of a base stays in the water unless the exercise states an ion-pair constant.",
        "Chloroform and dichloromethane take 5 to 50 % of the hydrochloride of a large amine out "
        "of an acid wash.",
        ESTIMATE, "Exercises with a base and a halogenated solvent",
        lambda exercise: _base_and_halogenated(exercise) and not any(
            name.startswith("log10_Kip") for name in exercise.setup.values)),
    LeftOut(
        "zwitterions", "Amino acids and their like",
        "The uncharged sum of a substance with an acid and a basic group is taken for a neutral "
        "molecule and extracts like one.",
        "Too much goes into the solvent near neutral: for an amino acid all of it is wrong, for an "
        "aminophenol or aminobenzoic acid little.",
        ESTIMATE, "Exercises with such a substance", _zwitterion),
    LeftOut(
        "gas-in-time", "How fast gas comes",
        "Gas is there at once; what stays dissolved beyond its solubility and comes later with a "
        "shake is not followed.",
        "Volumes are right within the range that is shown; the pressure of a stoppered funnel is "
        "an upper bound. Neither is a safety limit.",
        ESTIMATE, "Exercises with bicarbonate or carbonate", _gives_gas),
    LeftOut(
        "purification", "Recrystallisation, chromatography, distillation of the product",
        "The simulation ends with the crude product as it is weighed.",
        "A recrystallisation costs 10 to 40 % of the mass; it is not in the expected yield.",
        ESTIMATE, "Exercises whose product is weighed as a solid, and whatever is purified after "
        "the workup", _is_solid),
    LeftOut(
        "crystals", "How crystals form",
        "A solid comes out at once when it is above its solubility; no supersaturation, oiling "
        "out, crystal size or solvent inside the crystals.",
        "Waiting and scratching may be needed for the first tenth to half of it; fine crystals "
        "hold more mother liquor than the cake is given.",
        ESTIMATE, "Exercises in which a solid is collected",
        lambda exercise: "collect" in _verbs(exercise)),
)
