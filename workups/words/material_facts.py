"""What a sentence, a caution or a label needs to know of a material or a substance."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from workups.chemistry.kinds import bottle, is_halogenated
from workups.chemistry.substances import Tables
from workups.exercise.exercise import Exercise

# Hazard statements (GHS) in the few words that fit on a flask, the gravest first.
_HAZARD_WORDS: Mapping[str, tuple[str, ...]] = {
    "toxic": ("H300", "H301", "H310", "H311", "H330", "H331", "H370"),
    "corrosive": ("H314", "H290"),
    "may harm the unborn child or fertility": (
        "H360",
        "H360D",
        "H360F",
        "H360FD",
        "H361",
        "H361d",
        "H361f",
        "H361fd",
    ),
    "cancer or gene damage possible": ("H340", "H341", "H350", "H351"),
    "toxic gas with acid": ("EUH031",),
    "flammable": ("H220", "H221", "H224", "H225", "H226", "H228"),
    "may form peroxides": ("EUH019",),
    "dangerous to eyes": ("H318",),
    "sensitiser": ("H317", "H334"),
    "damages organs": ("H371", "H372", "H373"),
    "harmful": ("H302", "H304", "H312", "H332"),
    "irritant": ("H315", "H319", "H335"),
    "drowsiness": ("H336",),
    "harms water life": ("H400", "H410", "H411", "H412", "H413"),
}
# How the simulation calls what a drying agent is in a flask.
_AGENT = "agent:"
_NO_SOLUTION_WORD = ("acid", "ammonia", "water", "brine", "bleach", "solution")


@dataclass(frozen=True)
class MaterialFacts:
    """What handling a material calls for. ``cautions`` is its first caution, a word or two."""

    name: str
    flammable: bool = False
    forms_peroxides: bool = False
    is_halogenated: bool = False
    is_solvent: bool = False
    is_carbonate: bool = False
    is_acid: bool = False
    is_strong_base: bool = False
    is_corrosive: bool = False
    cautions: str = ""


def material_facts(key: str, exercise: Exercise) -> MaterialFacts:
    """Facts of a material from the exercise's own solutions, then from the tables."""
    known, name = exercise.setup.tables, material_name(key, exercise)
    own = next((m for m in exercise.setup.own_materials if m.key == key), None)
    solution = own or known.solutions.get(key)
    if solution is not None:
        kind = bottle(key, exercise.setup)
        return MaterialFacts(
            name,
            is_carbonate=kind.is_carbonate,
            is_acid=kind.is_acid,
            is_strong_base=kind.is_strong_base,
            is_corrosive=kind.is_corrosive,
            cautions=solution.cautions.partition(";")[0].strip(),
        )
    hazards = hazard_codes(key, known)
    substance = known.substances.get(key)
    return MaterialFacts(
        name,
        flammable="flammable" in hazard_words(hazards),
        forms_peroxides="EUH019" in hazards
        or (key in known.solvents and known.solvents[key].peroxide_former),
        is_halogenated=substance is not None and is_halogenated(substance),
        is_solvent=key in known.solvents,
    )


def material_name(key: str, exercise: Exercise) -> str:
    """The name of a material as it stands in a sentence: the exercise's own, or the tables'."""
    own = {material.key: material.name for material in exercise.setup.own_materials}
    if key in own:
        return own[key]
    known = exercise.setup.tables
    if key in known.agents:
        return _adjective_first(known.agents[key].name)
    name = known.material_name(key)
    if key in known.solutions and not any(word in name for word in _NO_SOLUTION_WORD):
        return f"{name} solution"
    return name


def material_word(key: str, exercise: Exercise) -> str:
    """The short form people say: "MTBE" for "methyl tert-butyl ether (MTBE)", else the name."""
    name = material_name(key, exercise)
    own = {material.key for material in exercise.setup.own_materials}
    known = exercise.setup.tables
    short = name.endswith(")") and (key in known.solvents or key in known.solutions)
    return name[name.rindex("(") + 1 : -1] if short and key not in own else name


def _adjective_first(name: str) -> str:
    """A name with its state in front: "anhydrous magnesium sulfate"."""
    head, _, tail = name.partition(", ")
    state, _, rest = tail.partition(" ")
    return " ".join(filter(None, (state, head, rest)))


def substance_name(key: str, known: Tables) -> str:
    """The plain name of a substance, ion or drying agent; the key with blanks where it is
    unknown."""
    agent = known.agents.get(key.removeprefix(_AGENT))
    if agent is not None and key.startswith(_AGENT):
        return _adjective_first(agent.name)
    if key in known.substances:
        return known.substances[key].name
    return known.ions[key].name if key in known.ions else key.replace("_", " ")


def substance_word(key: str, known: Tables) -> str:
    """The short form of a name, without what stands in brackets after it."""
    return substance_name(key, known).partition(" (")[0]


def molar_mass(key: str, known: Tables) -> float:
    """Molar mass in g/mol of a substance or ion; 0 for an unknown one."""
    found = known.substances.get(key) or known.ions.get(key)
    return found.molar_mass if found else 0.0


def is_bulk(key: str, known: Tables) -> bool:
    """Whether a substance is the bulk of a layer, water or an extraction solvent, or an ion."""
    return key == "water" or key in known.solvents or key in known.ions


def hazard_codes(key: str, known: Tables) -> tuple[str, ...]:
    """The hazard statements of a substance; none for a solution or an unknown one."""
    return known.substances[key].hazards if key in known.substances else ()


def hazard_words(codes: Iterable[str]) -> tuple[str, ...]:
    """Hazard statements as words for a label, the gravest first, each word once."""
    given = frozenset(codes)
    return tuple(word for word, of_word in _HAZARD_WORDS.items() if given & set(of_word))
