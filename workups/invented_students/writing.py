"""What a student writes down of the bench: weighings with their slips, looks and witnesses."""

from collections.abc import Callable, Mapping
from dataclasses import replace

from workups.chemistry.plan import Dry, Plan
from workups.chemistry.readings import DryingRecord, SeenVolume, TargetReadings, Weighing, Witness
from workups.chemistry.setup import Glassware, Setup, Target
from workups.chemistry.substances import Tables
from workups.words.numbers import balance_decimals

from .dice import Dice
from .truth import Contents, Drying, Truth

# How often each is written down at all.
WRITTEN: Mapping[str, float] = {
    "appearance": 0.8,
    "odour": 0.5,
    "TLC": 0.4,
    "IR": 0.3,
    "mp": 0.9,
}
DRYING_WRITTEN, LOOK_WRITTEN, VOLUME_WRITTEN = 0.85, 0.9, 0.5
AGENT_ROUNDING_G, AGENT_RELATIVE, VOLUME_RELATIVE = 0.1, 0.02, 0.04
MP_PER_SHARE_C, MP_NOISE_C = 80.0, 1.0
OBJECT_TICKED = 0.3
LEAST_TO_LOOK_AT_G = 0.02

Outcome = tuple[str, str, bool, float]


def drying_records(truth: Truth, plan: Plan, dice: Dice) -> tuple[DryingRecord, ...]:
    """The drying part of the bench sheet; portions are counted where the plan has portions."""
    portions = {s.id: s.mass_g for s in plan.of(Dry) if s.endpoint == "free-flowing"}
    return tuple(
        _drying_record(d, portions.get(d.step), dice)
        for d in truth.drying
        if dice.chance(f"drying:{d.step}", DRYING_WRITTEN)
    )


def _drying_record(used: Drying, portion_g: float | None, dice: Dice) -> DryingRecord:
    written = used.agent_g * (1.0 + AGENT_RELATIVE * dice.normal(f"agent:{used.step}"))
    steps = max(1, round(written / AGENT_ROUNDING_G))
    looked = dice.chance(f"look:{used.step}", LOOK_WRITTEN)
    return DryingRecord(
        used.step,
        round(steps * AGENT_ROUNDING_G, 1),
        max(1, round(used.agent_g / portion_g)) if portion_g else None,
        used.agent_look if looked else "",
        used.liquid_look if looked else "",
        used.minutes,
    )


def volumes(truth: Truth, dice: Dice) -> tuple[SeenVolume, ...]:
    """Volumes read off a flask, to the millilitre."""
    found = []
    for (step, flask), mL in truth.volumes_mL.items():
        if dice.chance(f"volume:{step}", VOLUME_WRITTEN):
            seen = mL * (1.0 + VOLUME_RELATIVE * dice.normal(f"volume:{step}"))
            found.append(SeenVolume(step, flask, float(max(1, round(seen)))))
    return tuple(found)


def target_readings(truth: Truth, target: Target, setup: Setup, dice: Dice) -> TargetReadings:
    """Weighings and witnesses of one target."""
    key = target.substance
    slip = truth.slip if key == truth.hit else ""
    own = Dice(dice.seed * 64 + 1 + sum(map(ord, key)) % 61)
    weighings = _clean_weighings(truth, target, setup.glassware, own)
    weighings = _SLIPS.get(slip, _as_is)(weighings, truth, own)
    signs = _witnesses(truth.contents[key], target, setup.tables, own)
    return TargetReadings(weighings, signs)


def flask_mass_g(target: Target, dice: Dice) -> float:
    """Mass of a plausible empty flask or vial [g]."""
    if "vial" in target.flask:
        return dice.between("flask", 12.0, 16.0)
    return dice.between("flask", 45.0, 75.0)


def _clean_weighings(
    truth: Truth, target: Target, glassware: Glassware, dice: Dice
) -> tuple[Weighing, ...]:
    d = glassware.balance_readability_g
    s = d if glassware.balance_repeatability_g is None else glassware.balance_repeatability_g
    empty = flask_mass_g(target, dice)
    number = str(1 + int(dice.unit("number") * 60))
    balance = dice.pick("balance", ("1", "2", "3"))

    def shown(name: str, mass_g: float) -> float:
        decimals = balance_decimals(d)
        return round(round((mass_g + s * dice.normal(name)) / d) * d, decimals)

    def weighing(kind: str, name: str, mass_g: float, minute: float) -> Weighing:
        return Weighing(kind, shown(name, mass_g), number, balance, d, ("flask",), minute)

    gross = [
        weighing("gross", f"gross{i}", empty + net, 95.0 + 10.0 * i)
        for i, net in enumerate(truth.nets[target.substance])
    ]
    return (weighing("tare", "tare", empty, 60.0), *gross)


Weighings = tuple[Weighing, ...]


def _as_is(weighings: Weighings, _truth: Truth, _dice: Dice) -> Weighings:
    return weighings


def _swapped(weighings: Weighings, _truth: Truth, _dice: Dice) -> Weighings:
    """Tare and the readings of the full flask are each in the other's box."""
    tare, *gross = weighings
    last = gross[-1]
    return (replace(tare, mass_g=last.mass_g), *(replace(g, mass_g=tare.mass_g) for g in gross))


def swapped_digits(mass_g: float, decimals: int, place: int) -> float | None:
    """A reading with two neighbouring digits exchanged, counted from the left; None: the same.

    >>> swapped_digits(48.372, 3, 3)
    48.327
    """
    digits = f"{round(mass_g * 10**decimals):d}"
    if place + 1 >= len(digits) or digits[place] == digits[place + 1]:
        return None
    turned = digits[:place] + digits[place + 1] + digits[place] + digits[place + 2 :]
    return round(float(int(turned)) / float(10**decimals), decimals)


def _digits(weighings: Weighings, _truth: Truth, dice: Dice) -> Weighings:
    full = dice.pick("full reading that has it", range(1, len(weighings)))
    at = 0 if dice.chance("tare has it", 0.4) else full
    hit = weighings[at]
    decimals = balance_decimals(hit.readability_g)
    count = len(f"{round(hit.mass_g * 10**decimals):d}") - 1
    options = [
        v for v in (swapped_digits(hit.mass_g, decimals, p) for p in range(count)) if v is not None
    ]
    if not options:
        return weighings
    wrong = replace(hit, mass_g=dice.pick("place", options))
    return (*weighings[:at], wrong, *weighings[at + 1 :])


def _thousand(weighings: Weighings, _truth: Truth, dice: Dice) -> Weighings:
    tare, *gross = weighings
    big = [replace(g, mass_g=round(g.mass_g * 1000.0, 3)) for g in gross]
    if dice.chance("both in mg", 0.6):
        return (replace(tare, mass_g=round(tare.mass_g * 1000.0, 3)), *big)
    return (tare, *big)


def _decimal(weighings: Weighings, _truth: Truth, dice: Dice) -> Weighings:
    at = 0 if dice.chance("tare has it", 0.5) else len(weighings) - 1
    times = 10.0 if dice.chance("to the right", 0.5) else 0.1
    hit = weighings[at]
    decimals = balance_decimals(hit.readability_g) + (1 if times < 1 else 0)
    wrong = replace(hit, mass_g=round(hit.mass_g * times, decimals))
    return (*weighings[:at], wrong, *weighings[at + 1 :])


def _object(weighings: Weighings, truth: Truth, dice: Dice) -> Weighings:
    """Now and then the ticks say what was on the pan."""
    if not dice.chance("ticked", OBJECT_TICKED):
        return weighings
    kind = "gross" if truth.slip == "object-at-gross" else "tare"
    return tuple(
        replace(w, on_pan=(*w.on_pan, truth.item)) if w.kind == kind else w for w in weighings
    )


def _other_flask(weighings: Weighings, _truth: Truth, dice: Dice) -> Weighings:
    """Now and then the numbers on the flasks tell."""
    if not dice.chance("numbers differ", 0.4):
        return weighings
    tare, *gross = weighings
    return (replace(tare, flask_number=f"{int(tare.flask_number) % 60 + 1}"), *gross)


_SLIPS: Mapping[str, Callable[[Weighings, Truth, Dice], Weighings]] = {
    "tare-gross-swapped": _swapped,
    "digits-swapped": _digits,
    "factor-1000": _thousand,
    "wrong-decimal": _decimal,
    "object-at-gross": _object,
    "object-at-tare": _object,
    "another-flask": _other_flask,
}


def saturating(share: float, half: float) -> float:
    """Chance to notice a share: one half at ``half``, rising with the square."""
    return share * share / (share * share + half * half)


def witness_outcomes(held: Contents) -> Mapping[str, tuple[Outcome, ...]]:
    """What may be noted of a product by kind: (word, text, agrees, probability)."""
    mass = max(held.mass_g, 1e-9)
    grit = 0.95 * saturating(held.agent / mass, 0.01)
    cloudy = (1.0 - grit) * 0.9 * saturating(held.water / mass, 0.01)
    vinegar = 0.9 * saturating(held.acid / mass, 0.01)
    solvent = (1.0 - vinegar) * 0.9 * saturating(held.solvent / mass, 0.03)
    spot = 0.95 * saturating(held.other / mass, 0.20)
    band = 0.9 * saturating((held.water + held.acid) / mass, 0.03)
    return {
        "appearance": (
            ("grit", "white grit at the bottom", False, grit),
            ("cloudy", "cloudy, drops on the glass", False, cloudy),
            ("clean", "clear, as it should look", True, 1.0 - grit - cloudy),
        ),
        "odour": (
            ("acid", "sharp, of acid", False, vinegar),
            ("solvent", "smells of solvent", False, solvent),
            ("clean", "faint, of the product", True, 1.0 - vinegar - solvent),
        ),
        "TLC": (
            ("spot", "a second spot, level with the starting material", False, spot),
            ("clean", "one spot", True, 1.0 - spot),
        ),
        "IR": (
            ("band", "broad O-H band that the reference does not have", False, band),
            ("clean", "as the reference", True, 1.0 - band),
        ),
    }


def melting_low_C(held: Contents, target: Target, known: Tables) -> float | None:
    """Where the product begins to melt [degrees C]; None for an oil or without a tabled value."""
    value = known.substances[target.substance].values.get("melting_point")
    if target.product_state == "oil" or value is None:
        return None
    impure = 1.0 - held.product / max(held.mass_g, 1e-9)
    return float(value.value - 1.0 - min(40.0, MP_PER_SHARE_C * impure))


def _witnesses(held: Contents, target: Target, known: Tables, dice: Dice) -> tuple[Witness, ...]:
    if held.mass_g < LEAST_TO_LOOK_AT_G:
        return ()
    found = [
        _witness(kind, outcomes, dice)
        for kind, outcomes in witness_outcomes(held).items()
        if dice.chance(f"writes {kind}", WRITTEN[kind])
    ]
    low = melting_low_C(held, target, known)
    if low is not None and dice.chance("writes mp", WRITTEN["mp"]):
        seen = low + MP_NOISE_C * dice.normal("mp")
        pure = known.substances[target.substance].values["melting_point"].value
        range_C = 1.0 + 0.3 * max(0.0, pure - 1.0 - low)
        found.append(Witness("mp", "", round(seen, 1), round(seen + range_C, 1), seen > pure - 4.0))
    return tuple(found)


def _witness(kind: str, outcomes: tuple[Outcome, ...], dice: Dice) -> Witness:
    options = [((text, agrees), p) for _, text, agrees, p in outcomes]
    text, agrees = dice.weighted(f"sees {kind}", options)
    return Witness(kind, text, agrees=agrees)
