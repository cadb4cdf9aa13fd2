"""The equations of the simulation with an exercise's own numbers in them, for a person to follow.

Worked by hand on the middle values of the model plan: constant K, the pH and volumes of the
simulated shake, nothing else. The simulation counts more (salt, co-solvents, droplets, films,
volume changes), so that its own result stands beside where the two can be compared.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from workups.chemistry.constants import KELVIN_AT_0_C
from workups.chemistry.draws import Draws
from workups.chemistry.facts import ShakeFacts
from workups.chemistry.inventory import partition_quantity
from workups.chemistry.layers import molar_gas_volume_mL
from workups.chemistry.materials import reagent_mmol
from workups.chemistry.measures import measure
from workups.chemistry.plan import Dry, Parting
from workups.chemistry.run import Outcome, Run, simulate
from workups.chemistry.setup import Reagent
from workups.chemistry.substances import Substance, Tables
from workups.chemistry.yields import theoretical_yield, weighing_u_g
from workups.exercise.exercise import Exercise
from workups.words.material_facts import material_name, substance_name, substance_word
from workups.words.numbers import (
    NBSP,
    amount,
    fixed,
    percent,
    rounded,
    significant,
    with_uncertainty,
)
from workups.words.sentences import step_heading

MOST_ROWS_A_SHAKE = 4
_LEAST_mmol, _LEAST_GAS_mmol = 0.05, 0.05


@dataclass(frozen=True)
class Working:
    """One line: what it is about, and the equation with its numbers and result."""

    about: str
    equation: str


@dataclass(frozen=True)
class WorkedChapter:
    """A topic: the equations in symbols, what the symbols mean, and the lines with numbers."""

    title: str
    symbols: tuple[str, ...]
    meaning: str
    lines: tuple[Working, ...]


def worked_chapters(exercise: Exercise) -> tuple[WorkedChapter, ...]:
    """The chapters of an exercise that have something to work out.

    Raises what the simulation raises where the model plan cannot be carried out.
    """
    run = simulate(exercise.model_plan, exercise.setup, Draws(1, 1))
    chapters = (
        _amounts(exercise),
        _theory(exercise),
        _shakes(exercise, run),
        _gas(exercise, run),
        _drying(exercise, run),
        _weighing(exercise, run),
    )
    return tuple(chapter for chapter in chapters if chapter.lines)


# --- amounts -------------------------------------------------------------------------------------


def _amounts(exercise: Exercise) -> WorkedChapter:
    known = exercise.setup.tables
    lines = tuple(
        Working(substance_word(r.substance, known).capitalize(), _amount_equation(r, known))
        for r in exercise.setup.reaction.reagents
        if r.amount_mmol is None
    )
    return WorkedChapter(
        "Amounts",
        ("n = m w / M", "n = V d w / M"),
        "n amount, m mass, V volume, d density, w mass fraction of the substance itself, M molar "
        "mass.",
        lines,
    )


def _amount_equation(reagent: Reagent, known: Tables) -> str:
    molar = known.molar_mass(reagent.substance)
    purity = f" · {amount(reagent.purity)}" if reagent.purity < 1.0 else ""
    if reagent.mass_g is not None:
        start = amount(reagent.mass_g, "g")
    else:
        density = known.substances[reagent.substance].values["density"].value
        start = f"{amount(reagent.volume_mL or 0.0, 'mL')} · {amount(density, 'g/mL')}"
    result = rounded(reagent_mmol(reagent, known), "mmol")
    return f"n = {start}{purity} / {fixed(molar, 2)}{NBSP}g/mol = {result}"


def _theory(exercise: Exercise) -> WorkedChapter:
    lines = tuple(
        Working(
            substance_word(t.substance, exercise.setup.tables).capitalize(),
            _theory_equation(exercise, t.substance),
        )
        for t in exercise.setup.targets
    )
    return WorkedChapter(
        "Theoretical yield",
        ("m = (n / ν) ν(product) M",),
        "n and ν amount and coefficient of the limiting reagent, the one with the least n / ν. "
        "What is only separated is expected as it was charged.",
        lines,
    )


def _theory_equation(exercise: Exercise, target: str) -> str:
    setup, known = exercise.setup, exercise.setup.tables
    theory = theoretical_yield(setup, known, target)
    result = with_uncertainty(theory.mass.g, theory.mass.u_g, "g")
    molar = f"{fixed(known.substances[target].molar_mass, 2)}{NBSP}g/mol"
    product = next((p for p in setup.reaction.products if p.substance == target), None)
    if product is None:
        return f"m = {rounded(theory.amount_mmol, 'mmol')} · {molar} = {result}"
    source = next(
        r
        for r in setup.reaction.reagents
        if r.substance == theory.limiting and r.coefficient > 0
    )
    charged = rounded(reagent_mmol(source, known), "mmol")
    return (
        f"m = ({charged} / {amount(source.coefficient)}) · {amount(product.coefficient)} · "
        f"{molar} = {result}; {substance_word(source.substance, known)} limits"
    )


# --- shakes --------------------------------------------------------------------------------------


def _shakes(exercise: Exercise, run: Run) -> WorkedChapter:
    lines = tuple(
        line
        for i, _, outcome in run.of(Parting)
        for line in _shake_lines(exercise, run, i + 1, outcome)
    )
    return WorkedChapter(
        "Who goes into which layer",
        (
            "D = K / (1 + 10^(pH − pKa))   an acid",
            "D = K / (1 + 10^(pKa − pH))   a base",
            "share in the organic layer = D V(org) / (D V(org) + V(aq))",
        ),
        "K partition coefficient of the neutral form, organic over water; D the same for all "
        "forms together. pH and volumes are those of the simulated shake.",
        lines,
    )


def _shake_lines(exercise: Exercise, run: Run, number: int, outcome: Outcome) -> Iterator[Working]:
    heading = step_heading(outcome.step, exercise)
    several = len(outcome.facts.shakes) > 1
    for portion, shake in enumerate(outcome.facts.shakes, 1):
        if not shake.two_layers[0]:
            continue
        which = f", portion {portion}" if several else ""
        solvent = _main_solvent(run, outcome)
        for key in _followed(exercise, run, number):
            equation = _shake_equation(exercise, key, solvent, shake)
            if equation:
                name = substance_word(key, exercise.setup.tables)
                about = f"Step {number}, {heading}{which}: {name}"
                yield Working(about, equation)


def _followed(exercise: Exercise, run: Run, number: int) -> list[str]:
    """The targets, then the reagents that are still about, the most first."""
    targets = [t.substance for t in exercise.setup.targets]
    bench = run.before(number - 1).everything()[:, 0]
    reagents = [r.substance for r in exercise.setup.reaction.reagents]
    about = [
        key
        for key in dict.fromkeys(reagents)
        if key in run.inventory.index
        and key not in targets
        and bench[run.inventory.index[key]] > _LEAST_mmol
    ]
    about.sort(key=lambda key: -bench[run.inventory.index[key]])
    return [*targets, *about][: max(MOST_ROWS_A_SHAKE, len(targets))]


def _main_solvent(run: Run, outcome: Outcome) -> str:
    """The extraction solvent of which the organic layer holds most after a step."""
    inv = run.inventory
    held = sum(flask.organic[:, 0] for flask in outcome.after.flasks.values())
    amounts = {key: float(held[inv.index[key]]) for key in inv.solvents}  # type: ignore[index]
    return max(amounts, key=lambda key: amounts[key], default="")


def _shake_equation(exercise: Exercise, key: str, solvent: str, shake: ShakeFacts) -> str:
    substance = exercise.setup.tables.substances.get(key)
    k = partition_quantity(substance, solvent, exercise.setup) if substance and solvent else None
    if substance is None or k is None:
        return ""
    pH = float(shake.pH[0])
    neutral, words = _neutral_part(exercise, substance, pH)
    if neutral is None:
        return ""
    ratio = 10.0**k.value * neutral
    organic, aqueous = float(shake.organic_mL[0]), float(shake.aqueous_mL[0])
    if ratio * organic + aqueous <= 0:
        return ""
    share = ratio * organic / (ratio * organic + aqueous)
    volumes = f"{rounded(organic, 'mL')}", f"{rounded(aqueous, 'mL')}"
    start = f"D = {significant(10.0**k.value)}{words}" if words else "D = K"
    return (
        f"{start} = {significant(ratio)}; {significant(ratio)} · {volumes[0]} / "
        f"({significant(ratio)} · {volumes[0]} + {volumes[1]}) = {percent(share)}"
    )


def _neutral_part(exercise: Exercise, substance: Substance, pH: float) -> tuple[float | None, str]:
    """Share of the neutral form at a pH and its words; None for more than one dissociation."""
    constants = [
        exercise.setup.values.get(f"pKa{n}:{substance.key}", q)
        for n, q in enumerate(substance.pKa, 1)
    ]
    if not constants:
        return 1.0, ""
    if len(constants) > 1 or substance.charge_top not in (0, 1):
        return None, ""
    pKa = constants[0].value
    here, there = (pH, pKa) if substance.charge_top == 0 else (pKa, pH)
    part = 1.0 / (1.0 + 10.0 ** (here - there))
    return part, f" / (1 + 10^({fixed(here, 1)} − {fixed(there, 1)}))"


# --- gas, water, balance -------------------------------------------------------------------------


def _gas(exercise: Exercise, run: Run) -> WorkedChapter:
    molar = molar_gas_volume_mL(run.inventory.room_C)
    kelvin = fixed(run.inventory.room_C + KELVIN_AT_0_C, 2)
    lines = []
    for number, outcome in enumerate(run.outcomes, 1):
        shaken = sum(float(s.gas_mmol[0]) for s in outcome.facts.shakes)
        poured = outcome.facts.gas_mmol
        gas = shaken if poured is None else max(shaken, float(poured[0]))
        if gas > _LEAST_GAS_mmol:
            lines.append(
                Working(
                    f"Step {number}, {step_heading(outcome.step, exercise)}",
                    f"V = {rounded(gas, 'mmol')} · {fixed(molar, 2)}{NBSP}mL/mmol "
                    f"= {rounded(gas * molar, 'mL')}",
                )
            )
    return WorkedChapter(
        "Gas",
        ("V = n R T / p",),
        f"At {kelvin}{NBSP}K and one atmosphere a millimole takes {fixed(molar, 2)}{NBSP}mL. n is "
        "what the balance of charges sets free beyond what stays dissolved.",
        tuple(lines),
    )


def _drying(exercise: Exercise, run: Run) -> WorkedChapter:
    lines = []
    for i, step, outcome in run.of(Dry):
        facts = outcome.facts.drying
        if facts is None:
            continue
        agent = exercise.setup.tables.agents[step.agent]
        taken = float(facts.water_before_mmol[0] - facts.water_after_mmol[0])
        salt = float(facts.mass_g[0]) / agent.molar_mass * 1e3
        held = [s.to_mol for s in agent.steps if math.isfinite(s.to_mol)]
        most = f"; its fullest hydrate holds {amount(max(held))}" if held else ""
        lines.append(
            Working(
                f"Step {i + 1}, {step_heading(step, exercise)}",
                f"{rounded(taken, 'mmol')} of water / ({rounded(float(facts.mass_g[0]), 'g')} / "
                f"{fixed(agent.molar_mass, 1)}{NBSP}g/mol) = {significant(taken / salt, 2)} mol "
                f"per mol of {material_name(step.agent, exercise)}{most}",
            )
        )
    return WorkedChapter(
        "Drying",
        ("r = n(water taken up) / n(salt)",),
        "A drying agent takes up water in steps, each at its own water activity; it stays loose "
        "while r is below its fullest hydrate.",
        tuple(lines),
    )


def _weighing(exercise: Exercise, run: Run) -> WorkedChapter:
    glass, known = exercise.setup.glassware, exercise.setup.tables
    d = glass.balance_readability_g
    s = d if glass.balance_repeatability_g is None else glass.balance_repeatability_g
    once = weighing_u_g(d, glass.balance_repeatability_g)
    u = math.hypot(once, once)
    lines = [
        Working(
            "Mass by difference",
            f"u = √2 · √({amount(d, 'g')}² / 12 + {amount(s, 'g')}²) = {rounded(u, 'g', 2)}",
        )
    ]
    for target in exercise.setup.targets:
        found = measure(run, target.substance)
        weighed = float(found.mass_g[0])
        theory = theoretical_yield(exercise.setup, known, target.substance).mass
        if weighed <= 0 or theory.g <= 0:
            continue
        share = weighed / theory.g
        u_share = share * math.hypot(u / weighed, theory.u_g / theory.g)
        lines.append(
            Working(
                f"Percent yield of {substance_name(target.substance, known)}, model plan",
                f"{rounded(weighed, 'g')} / {rounded(theory.g, 'g')} = "
                f"{with_uncertainty(100 * share, 100 * u_share, '%')}",
            )
        )
    return WorkedChapter(
        "Balance and percent yield",
        ("u(m) = √2 √(d² / 12 + s²)", "u(Y)/Y = √((u(m)/m)² + (u(m_th)/m_th)²)"),
        "d readability, s repeatability of the balance; a difference of two weighings.",
        tuple(lines),
    )
