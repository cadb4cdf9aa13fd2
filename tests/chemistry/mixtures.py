"""Random exercises and random plans, silly ones included, from a seed."""

from __future__ import annotations

from dataclasses import replace
from random import Random

from workups.chemistry import plan as p
from workups.chemistry.plan import START_FLASK, WASTE, Plan, Step
from workups.chemistry.quantity import Quantity
from workups.chemistry.setup import Product, Reaction, Reagent, Setup, SlowReaction, Spread, Target

SOLVENTS = ("diethyl_ether", "mtbe", "ethyl_acetate", "dichloromethane", "chloroform", "toluene",
            "hexane", "2_methyltetrahydrofuran", "cyclohexane")
SOLUTIONS = ("water", "brine", "nahco3_5pct", "nahco3_sat", "na2co3_10pct", "naoh_1m", "hcl_1m",
             "nh4cl_sat", "nahso3_10pct", "nh3_2m", "nah2po4_1m", "h2so4_1m", "nacl_half_sat")
AGENTS = ("magnesium_sulfate", "sodium_sulfate", "calcium_chloride", "potassium_carbonate",
          "calcium_sulfate", "sieves_3a")
SOLUTES = (
    "benzoic_acid", "salicylic_acid", "acetic_acid", "citric_acid", "ibuprofen", "phenol",
    "2_naphthol", "4_nitrophenol", "aniline", "triethylamine", "lidocaine", "pyridine",
    "benzylamine", "caffeine", "1_hexanol", "hexyl_acetate", "3_pentanone", "acetophenone",
    "naphthalene", "1_4_dimethoxybenzene", "ethanol", "tetrahydrofuran", "dimethylformamide",
    "sulfate", "phosphate", "borate", "ammonia", "carbon_dioxide", "p_toluenesulfonic_acid",
    "ethyl_acetate", "sodium", "chloride", "potassium", "bromide",
)
TARGET = "hexyl_acetate"


def random_case(seed: int, *, steps: int = 9, adjust: bool = True) -> tuple[Plan, Setup]:
    """A plan and the exercise it is for."""
    random = Random(seed)  # noqa: S311 - nothing secret, only the same every time
    setup = random_setup(random)
    return random_plan(random, setup, steps, adjust=adjust), setup


def random_setup(random: Random) -> Setup:
    """Three to eight substances, one or two solvents, five solutions, two drying agents."""
    chosen = random.sample(SOLUTES, random.randint(3, 8))
    reagents = tuple(Reagent(key, "mixture", 0.0, amount_mmol=_amount(random)) for key in chosen)
    reaction = Reaction(reagents)
    if random.random() < 0.3:
        made = (Reagent("1_hexanol", "alcohol", 1.0, mass_g=random.uniform(1.0, 6.0)),
                Reagent("acetic_acid", "acid", 1.0, mass_g=random.uniform(1.0, 10.0), purity=0.98))
        others = tuple(r for r in reagents if r.substance not in ("1_hexanol", "acetic_acid"))
        reaction = Reaction((*made, *others), (Product("hexyl_acetate"), Product("water")),
                            Spread(0.7, 0.85, 0.9))
    materials = (*random.sample(SOLVENTS, random.randint(1, 2)), *random.sample(SOLUTIONS, 5),
                 *random.sample(AGENTS, 2))
    return Setup(
        reaction, (Target(TARGET),), tuple(dict.fromkeys(("water", *materials))),
        start_phase=random.choice(("organic", "aqueous")), room_C=random.choice((20.0, 22.0, 25.0)),
        slow_reactions=_slow(random), salting=random.random() < 0.8,
        cosolvent=random.random() < 0.8)


def _amount(random: Random) -> float:
    return 10.0 ** random.uniform(-2.0, 1.7)


def _slow(random: Random) -> tuple[SlowReaction, ...]:
    if random.random() < 0.7:
        return ()
    rate = Quantity(0.1, "L/(mol s)", 0.05, "made up for the test", "P")
    return (SlowReaction("hexyl_acetate", "base", rate,
                         {"1_hexanol": 1.0, "acetic_acid": 1.0, "water": -1.0}),)


def random_plan(random: Random, setup: Setup, steps: int = 9, *, adjust: bool = True) -> Plan:
    """A program over flasks that need not make sense, only be possible."""
    return Plan(tuple(_Writer(random, setup, adjust).write(steps)))


class _Writer:
    """Writes steps one after another, each on a flask that exists."""

    def __init__(self, random: Random, setup: Setup, adjust: bool) -> None:
        self.random, self.setup = random, setup
        self.flasks = [START_FLASK]
        self.solvents = [m for m in setup.materials if m in SOLVENTS]
        self.agents = [m for m in setup.materials if m in AGENTS]
        self.liquids = [m for m in setup.materials if m not in self.agents]
        self.kinds = ["extract", "wash", "wash", "separate", "add", "dry", "filter", "strip",
                      "combine", "transfer", "rinse", "stand", "discard", "collect", "weigh",
                      "cool", "tare"]
        if adjust:
            self.kinds.append("adjust")

    def write(self, count: int) -> list[Step]:
        first = p.Add(id="s0", flask=START_FLASK, material=self.random.choice(self.solvents),
                      volume_mL=self._volume())
        second = p.Add(id="s1", flask=START_FLASK, material="water", volume_mL=self._volume())
        more = [getattr(self, "_" + self.random.choice(self.kinds))(f"s{i}")
                for i in range(2, count)]
        return [first, second, *more]

    def _volume(self) -> float:
        return round(self.random.choice((1.0, 5.0, 20.0, 30.0, 60.0))
                     * self.random.uniform(0.5, 1.5), 2)

    def _old(self) -> str:
        return self.random.choice(self.flasks)

    def _new(self, waste: bool = False) -> str:
        if waste and self.random.random() < 0.15:
            return WASTE
        name = self.random.choice((*"ABCDE", *self.flasks))
        if name not in self.flasks:
            self.flasks.append(name)
        return name

    def _parting(self) -> dict[str, object]:
        flask = self._old()
        return {"flask": flask, "keep": self.random.choice(("upper", "lower")),
                "keep_in": self._new(), "other_in": self._new(waste=True),
                "settle_min": self.random.choice((0.0, 2.0, 10.0, 200.0)),
                "interface": self.random.choice((p.INTERFACES[0], *p.INTERFACES))}

    def _extract(self, name: str) -> Step:
        return p.Extract(id=name, material=self.random.choice(self.liquids),
                         volume_mL=self._volume(), portions=self.random.randint(1, 3),
                         rinse_flask=self.random.random() < 0.3, **self._parting())

    def _wash(self, name: str) -> Step:
        return p.Wash(id=name, material=self.random.choice(self.liquids),
                      volume_mL=self._volume(), portions=self.random.randint(1, 2),
                      **self._parting())

    def _separate(self, name: str) -> Step:
        return p.Separate(id=name, **self._parting())

    def _add(self, name: str) -> Step:
        return p.Add(id=name, flask=self._old(), material=self.random.choice(self.liquids),
                     volume_mL=self._volume())

    def _dry(self, name: str) -> Step:
        return p.Dry(id=name, flask=self._old(), agent=self.random.choice(self.agents),
                     endpoint=self.random.choice(("weighed", "free-flowing")),
                     mass_g=self.random.choice((0.3, 1.0, 4.0)),
                     minutes=self.random.choice((0.0, 5.0, 60.0)))

    def _filter(self, name: str) -> Step:
        flask = self._old()
        return p.Filter(id=name, flask=flask, into=self._new(),
                        method=self.random.choice(("gravity", "decant")),
                        rinse_with=self.random.choice(("", *self.solvents)),
                        rinse_mL=self.random.choice((0.0, 5.0)), rinses=self.random.randint(0, 2),
                        receiver=self.random.choice((p.RECEIVERS[0], *p.RECEIVERS)))

    def _strip(self, name: str) -> Step:
        return p.Strip(id=name, flask=self._old(),
                       method=self.random.choice(("rotary", "open", "distil")),
                       bath_C=self.random.choice((25.0, 40.0, 60.0, 110.0)),
                       pressure_mbar=self.random.choice((20.0, 200.0, 1013.0)),
                       hold_min=self.random.choice((0.0, 1.0, 10.0)))

    def _combine(self, name: str) -> Step:
        flasks = tuple(dict.fromkeys((self._old(), self._old())))
        return p.Combine(id=name, flasks=flasks, into=self._new())

    def _transfer(self, name: str) -> Step:
        flask = self._old()
        return p.Transfer(id=name, flask=flask, into=self._new(),
                          rinse_with=self.random.choice(("", *self.solvents)),
                          rinse_mL=self.random.choice((0.0, 3.0)),
                          rinses=self.random.randint(0, 2))

    def _rinse(self, name: str) -> Step:
        flask = self._old()
        return p.Rinse(id=name, flask=flask, material=self.random.choice(self.solvents),
                       volume_mL=4.0, rinses=self.random.randint(1, 2), into=self._new())

    def _stand(self, name: str) -> Step:
        return p.Stand(id=name, flask=self._old(), minutes=self.random.choice((1.0, 30.0)))

    def _discard(self, name: str) -> Step:
        return p.Discard(id=name, flask=self._old())

    def _collect(self, name: str) -> Step:
        flask = self._old()
        return p.Collect(id=name, flask=flask, into=self._new(), filtrate_in=self._new(waste=True),
                         wash_with=self.random.choice(("", "water", self.solvents[0])),
                         wash_mL=5.0, washes=self.random.randint(0, 2),
                         air_dry_min=self.random.choice((0.0, 30.0)))

    def _weigh(self, name: str) -> Step:
        return p.Weigh(id=name, flask=self._old())

    def _cool(self, name: str) -> Step:
        return p.Cool(id=name, flask=self._old(), to_C=20.0)

    def _tare(self, name: str) -> Step:
        return p.Tare(id=name, flask=self._new())

    def _adjust(self, name: str) -> Step:
        material = self.random.choice([m for m in self.liquids if m not in self.solvents])
        return p.Adjust(id=name, flask=self._old(), material=material,
                        until_pH=self.random.choice((1.5, 3.0, 5.0, 7.0, 9.0, 12.0)))


def scaled(setup: Setup, plan: Plan, factor: float) -> tuple[Setup, Plan]:
    """Every amount and volume multiplied by a factor, glassware and glass films too."""
    def reagent(r: Reagent) -> Reagent:
        return replace(r, amount_mmol=None if r.amount_mmol is None else r.amount_mmol * factor,
                       mass_g=None if r.mass_g is None else r.mass_g * factor,
                       volume_mL=None if r.volume_mL is None else r.volume_mL * factor)

    def step(s: Step) -> Step:
        sizes = ("volume_mL", "mass_g", "rinse_mL", "wash_mL")
        return replace(s, **{n: getattr(s, n) * factor for n in sizes if hasattr(s, n)})

    from workups.chemistry.practice import PRACTICE

    own = {n: replace(PRACTICE[n], value=PRACTICE[n].value * factor)
           for n in ("film_mL", "paper_mL", "organic_cut_mL", "interface_mL", "wet_flask_mL",
                     "loose_g")}
    bigger = replace(
        setup, reaction=replace(setup.reaction,
                                reagents=tuple(reagent(r) for r in setup.reaction.reagents)),
        glassware=replace(setup.glassware, funnel_mL=setup.glassware.funnel_mL * factor),
        values={**setup.values, **own})
    return bigger, Plan(tuple(step(s) for s in plan.steps))
