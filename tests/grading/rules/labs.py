"""Exercises and plans for the tests of rules: the library's, and small made-up ones.

A lab is an exercise with one plan. The made-up exercises start with the product already there:
what matters to a rule is what is in the flask, not how it was made. All amounts are invented.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from workups.chemistry import plan as p
from workups.chemistry.plan import START_FLASK, Plan, Step
from workups.chemistry.quantity import Quantity
from workups.chemistry.setup import (
    Glassware,
    OwnMaterial,
    Reaction,
    Reagent,
    Setup,
    SlowReaction,
    Target,
)
from workups.documents import library_exercise
from workups.exercise.exercise import Choice, Exercise

from ..plans import every_exercise


@dataclass(frozen=True)
class Lab:
    """An exercise with a plan to be judged."""

    exercise: Exercise
    plan: Plan

    def edited(self, step: str, **changes: Any) -> Lab:
        """The same lab with some fields of one step changed."""
        old = self.plan.steps[self.plan.index(step)]
        return replace(self, plan=self.plan.replacing(replace(old, **changes)))

    def without(self, *steps: str) -> Lab:
        """The same lab without some steps."""
        return replace(self, plan=self.plan.without(*steps))

    def before(self, step: str, *new: Step) -> Lab:
        """The same lab with new steps before one."""
        return replace(self, plan=self.plan.inserting(self.plan.index(step), *new))

    def after(self, step: str, *new: Step) -> Lab:
        """The same lab with new steps after one."""
        return replace(self, plan=self.plan.inserting(self.plan.index(step) + 1, *new))

    def moved(self, step: str, before: str) -> Lab:
        """The same lab with one step moved before another."""
        rest = self.plan.without(step)
        return replace(self, plan=self.plan.moving(step, rest.index(before)))

    def swapped(self, step: str, new: Step) -> Lab:
        """The same lab with another step in one's place, under the old id."""
        return replace(self, plan=self.plan.replacing(replace(new, id=step)))

    def choosing(self, key: str, value: str) -> Lab:
        """The same lab with a setting of the exercise chosen."""
        kept = tuple(c for c in self.exercise.choices if c.key != key)
        chosen = (*kept, Choice(key, value, "For the test."))
        return replace(self, exercise=replace(self.exercise, choices=chosen))

    def offering(self, *materials: str) -> Lab:
        """The same lab with more bottles on the bench."""
        setup = self.exercise.setup
        more = (*setup.materials, *(m for m in materials if m not in setup.materials))
        return replace(self, exercise=replace(self.exercise, setup=replace(setup, materials=more)))

    def bringing(self, **own: Mapping[str, float]) -> Lab:
        """The same lab with solutions of its own: mmol per mL of each component, by key."""
        setup = self.exercise.setup
        made = tuple(OwnMaterial(k, k.replace("_", " "), 1.05, v) for k, v in own.items())
        setup = replace(setup, own_materials=(*setup.own_materials, *made))
        return replace(self, exercise=replace(self.exercise, setup=setup))


@cache
def library(key: str) -> Lab:
    """A library exercise with its model plan."""
    exercise = library_exercise(key)
    return Lab(exercise, exercise.model_plan)


@cache
def published(key: str) -> Lab:
    """A published procedure with its own plan."""
    exercise = next(e for e in every_exercise() if e.key == key)
    return Lab(exercise, exercise.model_plan)


def neat() -> Lab:
    """An ester in no solvent: parted, washed, dried over magnesium sulfate, filtered, weighed."""
    return published("isopentyl-acetate-neat")


def vinegar() -> Lab:
    """An ester out of an acid excess: MTBE, water, hydrogencarbonate, brine, magnesium sulfate."""
    return library("too-much-vinegar")


def ether() -> Lab:
    """A neutral ether out of alkaline ethanol: diethyl ether, water, brine, calcium chloride."""
    return library("plain-ether")


def three() -> Lab:
    """An acid, an amine and a neutral compound taken apart in MTBE."""
    return library("three-in-one-bottle")


def bottom() -> Lab:
    """Caffeine taken out of water with three portions of dichloromethane."""
    return library("bottom-layer")


def charged(
    substance: str, *, g: float | None = None, mL: float | None = None, mmol: float | None = None
) -> Reagent:
    """Something that is in the flask when the workup begins."""
    return Reagent(substance, "made up", 0, mass_g=g, volume_mL=mL, amount_mmol=mmol)


def made_up(
    contents: tuple[Reagent, ...],
    targets: tuple[str, ...],
    materials: tuple[str, ...],
    steps: tuple[Step, ...],
    **setup: Any,
) -> Lab:
    """A lab of our own making."""
    whole = Setup(
        Reaction(contents),
        tuple(Target(t) for t in targets),
        materials,
        **{"glassware": Glassware(funnel_mL=250.0), **setup},
    )
    plan = Plan(steps)
    return Lab(Exercise("made-up", "Made up", whole, plan), plan)


def shaken(
    kind: type[p.Extract] | type[p.Wash],
    name: str,
    flask: str,
    material: str,
    volume_mL: float,
    into: str = "organic",
    aside: str = "aqueous",
    **more: Any,
) -> Step:
    """An extraction or a wash that keeps the organic layer."""
    return kind(
        id=name, flask=flask, material=material, volume_mL=volume_mL, keep_in=into,
        other_in=aside, **more,
    )


def finished(
    flask: str, solvent: str, agent: str = "sodium_sulfate", into: str = "tared"
) -> tuple[Step, ...]:
    """Dry, filter into a tared flask, rinse, strip, weigh."""
    return (
        p.Dry(id="dry", flask=flask, agent=agent, mass_g=1.0, minutes=20.0),
        p.Tare(id="tare", flask=into),
        p.Filter(
            id="filter", flask=flask, into=into, rinse_with=solvent, rinse_mL=4.0, rinses=2
        ),
        p.Strip(id="strip", flask=into, bath_C=40.0, pressure_mbar=50.0, hold_min=5.0),
        p.Weigh(id="weigh", flask=into),
    )


def label(flask: str = "organic") -> Step:
    """A label, so that labels are not the question."""
    return p.Label(id="label", flask=flask, text="organic layer")


def hydride() -> Lab:
    """Ten millimoles of borohydride left beside an alcohol in MTBE: 40 mmol of hydrogen."""
    return made_up(
        (
            charged("4_methoxybenzyl_alcohol", g=2.0),
            charged("sodium_borohydride", mmol=10.0),
            charged("mtbe", mL=40.0),
        ),
        ("4_methoxybenzyl_alcohol",),
        ("mtbe", "water", "brine", "nh4cl_sat", "hcl_1m", "sodium_sulfate"),
        (
            p.Quench(id="quench", flask=START_FLASK, material="nh4cl_sat", volume_mL=30.0),
            p.Separate(id="part", flask=START_FLASK, keep_in="organic", other_in="aqueous"),
            label(),
            shaken(p.Wash, "brine", "organic", "brine", 15.0, aside="spent brine"),
            *finished("organic", "mtbe"),
        ),
    )


def grignard() -> Lab:
    """A tertiary alcohol that acid destroys, with 15 mmol of Grignard reagent left."""
    k = Quantity(2.0, "L/(mol s)", 0.5, "made up for the test", "P")
    return made_up(
        (
            charged("2_4_methoxyphenyl_propan_2_ol", g=3.0),
            charged("methylmagnesium_bromide", mmol=15.0),
            charged("diethyl_ether", mL=40.0),
        ),
        ("2_4_methoxyphenyl_propan_2_ol",),
        ("diethyl_ether", "water", "brine", "nh4cl_sat", "hcl_1m", "hcl_3m", "nahco3_5pct",
         "sodium_sulfate"),
        (
            p.Quench(id="quench", flask=START_FLASK, material="nh4cl_sat", volume_mL=30.0),
            p.Separate(id="part", flask=START_FLASK, keep_in="organic", other_in="aqueous"),
            label(),
            shaken(p.Wash, "brine", "organic", "brine", 15.0, aside="spent brine"),
            *finished("organic", "diethyl_ether"),
        ),
        slow_reactions=(
            SlowReaction("2_4_methoxyphenyl_propan_2_ol", "acid", k,
                         {"4_isopropenylanisole": 1.0, "water": 1.0}),
        ),
    )


def bleach() -> Lab:
    """A ketone in water with 15 mmol of hypochlorite left."""
    return made_up(
        (
            charged("acetophenone", g=3.0),
            charged("sodium_hypochlorite", mmol=15.0),
            charged("water", mL=50.0),
        ),
        ("acetophenone",),
        ("diethyl_ether", "water", "brine", "nahso3_10pct", "hcl_1m", "nh3_2m", "na2co3_5pct",
         "sodium_sulfate"),
        (
            p.Add(id="reduce", flask=START_FLASK, material="nahso3_10pct", volume_mL=20.0,
                  slowly=True),
            p.Test(id="test", flask=START_FLASK, how="KI-starch"),
            shaken(p.Extract, "extract", START_FLASK, "diethyl_ether", 25.0, portions=2),
            label(),
            shaken(p.Wash, "brine", "organic", "brine", 15.0, aside="spent brine"),
            *finished("organic", "diethyl_ether"),
        ),
        start_phase="aqueous",
    )


def in_cosolvent(cosolvent: str = "ethanol", mL: float = 60.0, product: str = "acetophenone",
                 g: float = 2.0) -> Lab:
    """A ketone made in a solvent that mixes with water, diluted well before the extraction."""
    return made_up(
        (charged(product, g=g), charged(cosolvent, mL=mL)),
        (product,),
        ("mtbe", "water", "brine", "licl_5pct", "sodium_sulfate"),
        (
            p.Add(id="dilute", flask=START_FLASK, material="water", volume_mL=5 * mL),
            shaken(p.Extract, "extract", START_FLASK, "mtbe", 40.0, portions=3),
            label(),
            shaken(p.Wash, "water", "organic", "water", 20.0, portions=4, aside="water washings"),
            shaken(p.Wash, "brine", "organic", "brine", 20.0, aside="spent brine"),
            *finished("organic", "mtbe"),
        ),
        glassware=Glassware(funnel_mL=1000.0),
    )


def in_water(solvent: str = "mtbe", portions: int = 5) -> Lab:
    """4-Methoxybenzyl alcohol in 60 mL of water, extracted with portions of 30 mL (D near 3)."""
    keep = "lower" if solvent == "dichloromethane" else "upper"
    return made_up(
        (charged("4_methoxybenzyl_alcohol", g=2.0), charged("water", mL=60.0)),
        ("4_methoxybenzyl_alcohol",),
        ("mtbe", "dichloromethane", "water", "brine", "sodium_sulfate"),
        (
            shaken(p.Extract, "extract", START_FLASK, solvent, 30.0, portions=portions, keep=keep),
            label(),
            shaken(p.Wash, "brine", "organic", "brine", 20.0, keep=keep, aside="spent brine"),
            *finished("organic", solvent),
        ),
        start_phase="aqueous",
    )


def in_dmf() -> Lab:
    """An aldehyde made in 15 mL of dimethylformamide, washed four times with water."""
    lab = in_cosolvent("dimethylformamide", 15.0, "4_butoxy_3_methoxybenzaldehyde", 2.0)
    return lab.edited("water", portions=5)


def acid_and_phenol() -> Lab:
    """Benzoic acid, 2-naphthol and biphenyl in MTBE, taken apart in the right order."""
    targets = ("benzoic_acid", "2_naphthol", "biphenyl")
    flasks = ("dish A", "dish P", "flask N")
    lab = made_up(
        (*(charged(t, g=1.2) for t in targets), charged("mtbe", mL=40.0)),
        targets,
        ("mtbe", "water", "brine", "nahco3_5pct", "naoh_1m", "hcl_3m", "sodium_sulfate"),
        (
            shaken(p.Wash, "take-acid", START_FLASK, "nahco3_5pct", 20.0, portions=3,
                   aside="flask A", swirl_open=True),
            shaken(p.Wash, "take-phenol", "organic", "naoh_1m", 20.0, portions=2,
                   aside="flask P"),
            label(),
            shaken(p.Wash, "brine", "organic", "brine", 15.0, aside="spent brine"),
            *finished("organic", "mtbe", into="flask N"),
            *(
                step
                for letter in "AP"
                for step in (
                    p.Adjust(id=f"acidify-{letter}", flask=f"flask {letter}", material="hcl_3m",
                             until_pH=1.0),
                    p.Tare(id=f"tare-{letter}", flask=f"dish {letter}"),
                    p.Collect(id=f"collect-{letter}", flask=f"flask {letter}",
                              into=f"dish {letter}", filtrate_in=f"filtrate {letter}",
                              wash_with="water", wash_mL=3.0, washes=1, air_dry_min=300.0),
                    p.Weigh(id=f"weigh-{letter}", flask=f"dish {letter}"),
                )
            ),
        ),
    )
    setup = lab.exercise.setup
    named = tuple(Target(t, f, product_state="solid") for t, f in zip(targets, flasks, strict=True))
    return replace(lab, exercise=replace(lab.exercise, setup=replace(setup, targets=named)))


def amine() -> Lab:
    """Dibenzylamine beside a neutral compound in MTBE, through acid and back."""
    return made_up(
        (charged("dibenzylamine", g=2.0), charged("biphenyl", g=6.0), charged("mtbe", mL=40.0)),
        ("dibenzylamine",),
        ("mtbe", "water", "brine", "hcl_1m", "hcl_3m", "naoh_3m", "nahco3_5pct",
         "potassium_carbonate", "sodium_sulfate", "calcium_chloride"),
        (
            shaken(p.Wash, "take-amine", START_FLASK, "hcl_1m", 20.0, portions=2,
                   into="neutral", aside="acid layer"),
            p.Label(id="label-acid", flask="acid layer", text="amine as its salt"),
            p.Wash(id="clean", flask="acid layer", material="mtbe", volume_mL=10.0, keep="lower",
                   keep_in="acid layer", other_in="neutral washings"),
            p.Adjust(id="basify", flask="acid layer", material="naoh_3m", until_pH=12.5),
            shaken(p.Extract, "extract", "acid layer", "mtbe", 20.0, portions=3, aside="base"),
            shaken(p.Wash, "brine", "organic", "brine", 15.0, aside="spent brine"),
            *finished("organic", "mtbe", "potassium_carbonate"),
        ),
    )


def heavy(solvent: str = "dichloromethane") -> Lab:
    """An ester in a solvent heavier than water, washed with dilute base and water."""
    return made_up(
        (charged("ethyl_benzoate", g=3.0), charged(solvent, mL=40.0)),
        ("ethyl_benzoate",),
        ("dichloromethane", "chloroform", "mtbe", "acetone", "water", "brine", "naoh_1m",
         "naoh_6m", "nahco3_5pct", "hcl_1m", "sodium_sulfate"),
        (
            shaken(p.Wash, "base", START_FLASK, "naoh_1m", 15.0, keep="lower",
                   aside="base washings"),
            label(),
            shaken(p.Wash, "water", "organic", "water", 15.0, keep="lower",
                   aside="water washings"),
            *finished("organic", solvent),
        ),
    )


def changed_values(lab: Lab, **values: float) -> Lab:
    """The same lab with some practice values set, without uncertainty."""
    given: Mapping[str, Quantity] = {
        name: Quantity(value, "1", 0.0, "made up for the test", "P")
        for name, value in values.items()
    }
    setup = replace(lab.exercise.setup, values={**lab.exercise.setup.values, **given})
    return replace(lab, exercise=replace(lab.exercise, setup=setup))
