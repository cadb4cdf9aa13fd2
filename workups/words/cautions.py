"""The short caution printed beside a step: what can go wrong with it and when to stop and ask."""

from collections.abc import Callable, Mapping
from typing import Any

from workups.chemistry.plan import START_FLASK, Step
from workups.exercise.exercise import Exercise

from .material_facts import MaterialFacts, material_facts

_VENT = (
    "Hold stopper and tap; invert, vent at once, then every few shakes, stem into the hood, "
    "away from people. Stop and ask if it hisses or the stopper lifts."
)
_CARBONATE = (
    "Gas: swirl open until the fizzing stops, then stopper and vent at every "
    "inversion, stem into the hood. Stop and ask if it still fizzes."
)
_NO_FLAME = "Flammable vapour: no flame, no hotplate."
_HALOGENATED = "Halogenated solvent: hood, and its own waste container."
_PEROXIDE = "Peroxide former: only tested solvent; never to dryness if peroxides are possible."


def step_caution(step: Step, exercise: Exercise) -> str:
    """The caution of a step in one or two short sentences; empty where there is none."""
    return _CAUTIONS.get(step.verb, _materials)(step, exercise)


def _joined(*parts: str) -> str:
    return " ".join(part for part in parts if part)


def _used(step: Step, exercise: Exercise) -> MaterialFacts:
    """The first material that a step names."""
    key = next(iter(step.materials()), "")
    return material_facts(key, exercise) if key else MaterialFacts("")


def _solvents(exercise: Exercise) -> list[MaterialFacts]:
    """The solvents a plan may hold; which one is in a flask is not asked here."""
    facts = (material_facts(key, exercise) for key in exercise.setup.materials)
    return [f for f in facts if f.is_solvent]


def _solvent_caution(facts: MaterialFacts) -> str:
    if facts.is_halogenated:
        return _HALOGENATED
    return _NO_FLAME if facts.flammable else ""


def _corrosive(facts: MaterialFacts) -> str:
    """A word on acids, bases and other solutions that hurt eyes and skin."""
    if facts.is_acid or facts.is_strong_base:
        kind = "Acid" if facts.is_acid else "Base"
        word = facts.cautions or ("corrosive" if facts.is_corrosive else "")
        return f"{', '.join(filter(None, (kind, word)))}: mind your eyes."
    return f"{facts.cautions[0].upper()}{facts.cautions[1:]}." if facts.cautions else ""


def _cool(_step: Any, _exercise: Exercise) -> str:
    return "A hot liquid is never stoppered and never goes into a funnel."


def _materials(step: Step, exercise: Exercise) -> str:
    """A kind that has no caution of its own: what its materials ask for."""
    facts = [material_facts(use.material, exercise) for use in step.uses()]
    said = (words for f in facts for words in (_corrosive(f), _solvent_caution(f)))
    return _joined(*dict.fromkeys(said))


def _add(step: Any, exercise: Exercise) -> str:
    facts = _used(step, exercise)
    if facts.is_carbonate:
        return "Gas if there is acid: small portions, flask open. Stop and ask if it foams."
    return _joined(_corrosive(facts), _solvent_caution(facts))


def _quench(step: Any, exercise: Exercise) -> str:
    return _joined(
        "Gas and heat: slowly, cold, open, in the hood. Stop and ask if it froths or colours.",
        _corrosive(_used(step, exercise)),
    )


def _adjust(step: Any, exercise: Exercise) -> str:
    slow = "Slowly, cold, swirling; check with pH paper. Stop and ask if it foams."
    return _joined(_corrosive(_used(step, exercise)), slow)


def _part(step: Any, exercise: Exercise) -> str:
    facts = _used(step, exercise)
    if facts.is_carbonate:
        return _CARBONATE
    halogenated = _HALOGENATED if facts.is_halogenated else ""
    return _joined(_corrosive(facts), _VENT, halogenated)


def _combine(_step: Any, _exercise: Exercise) -> str:
    return "Read both labels before you pour."


def _transfer(step: Any, exercise: Exercise) -> str:
    to_funnel = step.flask == START_FLASK or "funnel" in step.into.lower()
    cold = "Cold first; tap closed, a flask under it; fill a funnel to three quarters at most."
    return _joined(cold if to_funnel else "", _solvent_caution(_used(step, exercise)))


def _rinse(step: Any, exercise: Exercise) -> str:
    return _solvent_caution(_used(step, exercise))


def _dry(_step: Any, _exercise: Exercise) -> str:
    return "Dust: do not breathe it in. Swirl; do not shake a stoppered flask."


def _filter(_step: Any, exercise: Exercise) -> str:
    cautions = {_solvent_caution(facts) for facts in _solvents(exercise)}
    return _joined(*sorted(cautions))


def _collect(_step: Any, _exercise: Exercise) -> str:
    return "Clamp the flask, no cracked glass; let air in before the pump stops."


def _tare(_step: Any, _exercise: Exercise) -> str:
    return "Stick labels on before this weighing: tape weighs."


def _strip(step: Any, exercise: Exercise) -> str:
    solvents = _solvents(exercise)
    how = {
        "rotary": "No cracked flask; let air in before you lower it. Stop and ask if it bumps.",
        "open": "In the hood only. Stop and ask if you smell it.",
        "distil": "Boiling chips, open to the air, never to dryness.",
    }[step.method]
    flame = _NO_FLAME if any(f.flammable for f in solvents) else ""
    halogenated = _HALOGENATED if any(f.is_halogenated for f in solvents) else ""
    peroxide = _PEROXIDE if any(f.forms_peroxides for f in solvents) else ""
    return _joined(flame, how, halogenated, peroxide)


def _weigh(_step: Any, _exercise: Exercise) -> str:
    return "Cool and dry outside; no open solvent at a shared balance."


def _discard(_step: Any, _exercise: Exercise) -> str:
    return (
        "Read the container's label; fill to 80 % at most; never close tightly on anything "
        "that still gives gas. Stop and ask if the bottle is warm or swells."
    )


def _stand(_step: Any, _exercise: Exercise) -> str:
    return "Label it; do not stopper anything that still gives gas."


_CAUTIONS: Mapping[str, Callable[[Any, Exercise], str]] = {
    "cool": _cool,
    "add": _add,
    "quench": _quench,
    "adjust": _adjust,
    "separate": _part,
    "extract": _part,
    "wash": _part,
    "combine": _combine,
    "transfer": _transfer,
    "rinse": _rinse,
    "dry": _dry,
    "filter": _filter,
    "collect": _collect,
    "tare": _tare,
    "strip": _strip,
    "weigh": _weigh,
    "discard": _discard,
    "stand": _stand,
}
