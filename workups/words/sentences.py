"""A step of a plan as an English sentence in the imperative, as a lab handout has it."""

from collections.abc import Callable, Mapping
from typing import Any

from workups.chemistry.limits import ICE_BELOW_C
from workups.chemistry.plan import INTERFACES, RECEIVERS, WASTE, FieldKind, Parting, Step
from workups.exercise.exercise import Exercise

from .cautions import step_caution
from .material_facts import material_word
from .numbers import NBSP, amount, duration, joined, times

__all__ = ["STREAM_TITLES", "flask_name", "step_caution", "step_heading", "step_sentence"]

STREAM_TITLES: Mapping[str, str] = {
    "aqueous": "aqueous waste",
    "acid": "acid waste",
    "base": "base waste",
    "non_halogenated": "non-halogenated solvent waste",
    "halogenated": "halogenated solvent waste",
    "solid": "solid waste",
}
_AMBIENT_MBAR = 1000.0

Named = Callable[[str], str]


def step_sentence(step: Step, exercise: Exercise) -> str:
    """One sentence that tells a person at the bench what to do; the note is left out."""
    sentence = _SENTENCES.get(step.verb, _by_its_fields)
    return sentence(step, lambda key: material_word(key, exercise))


def step_heading(step: Step, exercise: Exercise) -> str:
    """A few words for a table or a figure: the verb and what it is done with."""
    parts = [step.title]
    for use in step.uses():
        if use.is_rinse:
            continue
        parts.append(material_word(use.material, exercise))
        if use.each_mL is not None:
            each = amount(use.each_mL, "mL")
            parts.append(f"{use.times}{NBSP}×{NBSP}{each}" if use.times > 1 else each)
    return ", ".join(parts)


def flask_name(name: str) -> str:
    """A flask as it stands in a sentence: in quotation marks, but for the waste."""
    return WASTE if name == WASTE else f"‘{name}’"


def _sentence(*parts: str) -> str:
    """Parts that are not empty, joined by commas, with a full stop."""
    return ", ".join(part for part in parts if part) + "."


def _rinse(liquid: str, volume_mL: float, count: int) -> str:
    """The end of a sentence about rinsing: "5 mL of ether, twice"."""
    return ", ".join(filter(None, (f"{amount(volume_mL, 'mL')} of {liquid}", times(count))))


def _by_its_fields(s: Step, named: Named) -> str:
    """A kind that has no sentence of its own, field by field: "Strain: flask ‘a’; time 5 min."."""
    said = [
        f"{spec.label.lower()} {_value(spec.kind, value, spec.unit, named)}"
        for name, spec, value in s.fields()
        if name != "note" and value not in ("", ())
    ]
    return f"{s.title}: {'; '.join(said)}."


def _value(kind: FieldKind, value: Any, unit: str, named: Named) -> str:
    """What stands in a field, in words."""
    match kind:
        case FieldKind.FLASK:
            return flask_name(value)
        case FieldKind.FLASKS:
            return joined([flask_name(name) for name in value])
        case FieldKind.MATERIAL:
            return named(value)
        case FieldKind.QUANTITY | FieldKind.COUNT:
            return amount(value, unit)
        case FieldKind.FLAG:
            return "yes" if value else "no"
        case FieldKind.CHOICE | FieldKind.TEXT:
            return str(value)


def _cool(s: Any, _: Named) -> str:
    if s.to_C < ICE_BELOW_C:
        return f"Cool {flask_name(s.flask)} to {amount(s.to_C, '°C')} in an ice bath."
    return f"Let {flask_name(s.flask)} cool to {amount(s.to_C, '°C')}."


def _slowly(s: Any) -> str:
    return "slowly, in portions" if s.slowly else ""


def _on_ice(s: Any) -> str:
    return "in an ice bath" if s.on_ice else ""


def _add(s: Any, named: Named) -> str:
    what = f"{amount(s.volume_mL, 'mL')} of {named(s.material)}"
    return _sentence(f"Add {what} to {flask_name(s.flask)}", _slowly(s))


def _quench(s: Any, named: Named) -> str:
    what = f"{amount(s.volume_mL, 'mL')} of {named(s.material)}"
    state = "with the flask open" if s.open_flask else "with the flask closed"
    pace = _slowly(s) or "in one go"
    return _sentence(f"Quench {flask_name(s.flask)} with {what}", pace, _on_ice(s), state)


def _adjust(s: Any, named: Named) -> str:
    start = f"Bring {flask_name(s.flask)} to pH {amount(s.until_pH)} with {named(s.material)}"
    return _sentence(start, _slowly(s) or "in one go", _on_ice(s))


def _shaking(s: Parting) -> str:
    """How the funnel is handled: "swirling open first and venting"."""
    swirl = "swirling open first" if s.swirl_open else ""
    vent = "venting" if s.vent else "without venting"
    if swirl:
        return f"{swirl}, then shaking and {vent}" if s.vent else f"{swirl}, then shaking {vent}"
    return f"shaking and {vent}" if s.vent else f"shaking {vent}"


def _settle(s: Parting, count: int) -> str:
    if s.settle_min <= 0:
        return ""
    return f"let settle {duration(s.settle_min)}{' each time' if count > 1 else ''}"


def _interface(s: Parting) -> str:
    """Only where it goes with the organic layer: that it stays behind needs no words."""
    return "" if s.interface == INTERFACES[0] else f"what is at the interface goes {s.interface}"


def _parting(start: str, s: Parting, layers: tuple[str, str], count: int = 1) -> str:
    said = (f"{start}, {_shaking(s)}", _settle(s, count), *layers, _interface(s))
    return "; ".join(filter(None, said)) + "."


def _other_layer(s: Parting) -> str:
    return "lower" if s.keep == "upper" else "upper"


def _two_layers(s: Parting) -> tuple[str, str]:
    return (
        f"keep the {s.keep} layer in {flask_name(s.keep_in)}",
        f"the {_other_layer(s)} layer goes to {flask_name(s.other_in)}",
    )


def _separate(s: Any, _: Named) -> str:
    return _parting(f"Separate the layers in {flask_name(s.flask)}", s, _two_layers(s))


def _shaken_with(s: Any, named: Named) -> str:
    return _rinse(named(s.material), s.volume_mL, s.portions)


def _extract(s: Any, named: Named) -> str:
    start = f"Extract {flask_name(s.flask)} with {_shaken_with(s, named)}"
    if s.rinse_flask:
        start += ", half of the first portion by way of the emptied flask"
    if s.portions == 1:
        return _parting(start, s, _two_layers(s))
    layers = (
        f"combine the {s.keep} layers in {flask_name(s.keep_in)}",
        f"shake the {_other_layer(s)} layer again each time; it ends in {flask_name(s.other_in)}",
    )
    return _parting(start, s, layers, s.portions)


def _wash(s: Any, named: Named) -> str:
    start = f"Wash {flask_name(s.flask)} with {_shaken_with(s, named)}"
    if s.portions == 1:
        return _parting(start, s, _two_layers(s))
    kept = f"keep the {s.keep} layer in {flask_name(s.keep_in)}"
    if s.keep_in != s.flask:
        kept = f"keep the {s.keep} layer each time, at the end in {flask_name(s.keep_in)}"
    layers = (kept, f"the {_other_layer(s)} layers go to {flask_name(s.other_in)}")
    return _parting(start, s, layers, s.portions)


def _combine(s: Any, _: Named) -> str:
    flasks = [flask_name(flask) for flask in s.flasks if flask != s.into]
    if len(flasks) < len(s.flasks):
        return f"Pour {joined(flasks)} into {flask_name(s.into)}."
    return f"Pour {joined(flasks)} together into {flask_name(s.into)}."


def _rinsed(s: Any, named: Named) -> str:
    if not (s.rinse_with and s.rinses and s.rinse_mL):
        return ""
    return _rinse(named(s.rinse_with), s.rinse_mL, s.rinses)


def _transfer(s: Any, named: Named) -> str:
    pour = f"Pour {flask_name(s.flask)} into {flask_name(s.into)}"
    rinse = _rinsed(s, named)
    return f"{pour} and rinse it in with {rinse}." if rinse else f"{pour}."


def _rinse_out(s: Any, named: Named) -> str:
    what = _rinse(named(s.material), s.volume_mL, s.rinses)
    start = f"Rinse the emptied {flask_name(s.flask)} with {what}"
    return f"{start}, and add the rinsings to {flask_name(s.into)}."


def _dry(s: Any, named: Named) -> str:
    each, agent = amount(s.mass_g, "g"), named(s.agent)
    wait = f"leave for {duration(s.minutes)}, swirling now and then"
    if s.endpoint == "weighed":
        return f"Dry {flask_name(s.flask)} with {each} of {agent}; {wait}."
    start = f"Dry {flask_name(s.flask)} with {agent} in portions of {each}"
    return f"{start} until the last portion stays loose; {wait}."


def _filter(s: Any, named: Named) -> str:
    how = "Decant the liquid from" if s.method == "decant" else "Filter"
    wet = "" if s.receiver == RECEIVERS[0] else f", which is {s.receiver}"
    start = f"{how} {flask_name(s.flask)} into {flask_name(s.into)}{wet}"
    rinse = _rinsed(s, named)
    return f"{start} and rinse the solid with {rinse}." if rinse else f"{start}."


def _collect(s: Any, named: Named) -> str:
    parts = [f"Collect the solid from {flask_name(s.flask)} by vacuum filtration"]
    if s.wash_with and s.washes and s.wash_mL:
        washed = _rinse(named(s.wash_with), s.wash_mL, s.washes)
        parts.append(f"wash it on the filter with {washed}")
    if s.air_dry_min > 0:
        parts.append(f"let it dry in air for {duration(s.air_dry_min)}")
    parts.append(f"solid to {flask_name(s.into)}, filtrate to {flask_name(s.filtrate_in)}")
    return "; ".join(parts) + "."


def _triturate(s: Any, named: Named) -> str:
    each = " each time" if s.portions > 1 else ""
    stir = f"; stir for {duration(s.minutes)}{each}" if s.minutes > 0 else ""
    start = f"Triturate {flask_name(s.flask)} with {_shaken_with(s, named)}"
    return f"{start}{stir}; take the liquid off the solid, to {flask_name(s.liquid_in)}."


def _tare(s: Any, _: Named) -> str:
    return f"Weigh {flask_name(s.flask)} empty, clean and dry, and record the tare."


def _strip(s: Any, _: Named) -> str:
    flask, bath = flask_name(s.flask), f"bath {amount(s.bath_C, '°C')}"
    hold = f"hold {duration(s.hold_min)} after the solvent stops coming" if s.hold_min else ""
    reduced = s.pressure_mbar < _AMBIENT_MBAR
    pressure = f"down to {amount(s.pressure_mbar, 'mbar')}" if reduced else "at ordinary pressure"
    start = {
        "rotary": f"Strip the solvent from {flask} on the rotary evaporator",
        "open": f"Let the solvent evaporate from {flask}, open, in the hood",
        "distil": f"Distil the solvent off {flask}",
    }[s.method]
    return _sentence(start, bath, pressure, hold)


def _weigh(s: Any, _: Named) -> str:
    start = f"Weigh {flask_name(s.flask)} with the product, cool and dry outside"
    return _sentence(start, f"{times(s.readings)}, to constant mass" if s.readings > 1 else "")


def _discard(s: Any, _: Named) -> str:
    return f"Pour {flask_name(s.flask)} into the container for {STREAM_TITLES[s.stream]}."


def _label(s: Any, _: Named) -> str:
    text = f": “{s.text}”" if s.text else " with what is in it and which layer it was"
    return f"Label {flask_name(s.flask)}{text}."


def _test(s: Any, _: Named) -> str:
    flask = flask_name(s.flask)
    return {
        "pH paper": f"Test {flask} with pH paper.",
        "drop test": f"Do a drop test on {flask}: see which layer takes up a drop of water.",
        "KI-starch": f"Test {flask} with KI-starch paper.",
        "TLC": f"Spot {flask} on a TLC plate.",
    }[s.how]


def _stand(s: Any, _: Named) -> str:
    return f"Let {flask_name(s.flask)} stand for {duration(s.minutes)}."


_SENTENCES: Mapping[str, Callable[[Any, Named], str]] = {
    "cool": _cool,
    "add": _add,
    "quench": _quench,
    "adjust": _adjust,
    "separate": _separate,
    "extract": _extract,
    "wash": _wash,
    "combine": _combine,
    "transfer": _transfer,
    "rinse": _rinse_out,
    "dry": _dry,
    "filter": _filter,
    "collect": _collect,
    "triturate": _triturate,
    "tare": _tare,
    "strip": _strip,
    "weigh": _weigh,
    "discard": _discard,
    "label": _label,
    "test": _test,
    "stand": _stand,
}
