"""The tables hold together: unique keys, known sources, units, sane ranges, whole pairs."""

from __future__ import annotations

import csv
import re
import tomllib
from collections import defaultdict
from pathlib import Path

import pytest

from workups.chemistry import tables as reading

DATA = Path(__file__).parents[2] / "workups" / "chemistry" / "data"
LOOKUP_DATA = DATA.parents[1] / "lookup" / "data"
EXTRACTION_SOLVENTS = [
    "diethyl_ether",
    "mtbe",
    "ethyl_acetate",
    "dichloromethane",
    "chloroform",
    "toluene",
    "hexane",
    "pentane",
    "heptane",
    "petroleum_ether_40_60",
    "cyclohexane",
    "2_methyltetrahydrofuran",
    "diisopropyl_ether",
    "butyl_acetate",
    "dibutyl_ether",
    "1_2_dichloroethane",
    "2_2_4_trimethylpentane",
    "petroleum_ether_60_80",
    "p_xylene",
    "methylcyclohexane",
]
CLASSES = {
    "carboxylic_acid",
    "phenol",
    "alcohol",
    "tertiary_alcohol",
    "amine",
    "amide",
    "ester",
    "ketone",
    "aldehyde",
    "ether",
    "acetal",
    "alkene",
    "arene",
    "alkyl_halide",
    "nitro",
    "lactam",
    "inorganic",
    "solvent",
    "cosolvent",
}
UNITS = {
    "pKa1": "1",
    "pKa2": "1",
    "pKa3": "1",
    "log_kow": "1",
    "density": "g/mL",
    "apparent_molar_volume": "mL/mol",
    "boiling_point": "C",
    "melting_point": "C",
    "flash_point": "C",
    "water_solubility": "g/L",
    "setschenow": "L/mol",
    "water_in_solvent": "wt% of that phase",
    "solvent_in_water": "wt% of that phase",
    "co2_ostwald": "mL/mL",
    "henry": "mol/(L atm)",
}
RANGES = {
    "pKa1": (-3, 14),
    "pKa2": (2, 14),
    "pKa3": (5, 14),
    "log_kow": (-3, 6),
    "density": (0.6, 2.4),
    "apparent_molar_volume": (5, 400),
    "boiling_point": (-260, 450),
    "melting_point": (-160, 300),
    "flash_point": (-70, 200),
    "water_solubility": (1e-5, 200),
    "setschenow": (0, 0.5),
    "water_in_solvent": (0.001, 6),
    "solvent_in_water": (1e-5, 20),
    "co2_ostwald": (0.5, 10),
    "henry": (1e-4, 100),
}
# Trade scenarios 6.1 to 6.8 of the reference notes and the plain aryl alkyl ether workup.
SCENARIO_SUBSTANCES = {
    "three in a bottle": "trans_cinnamic_acid lidocaine 1_4_dimethoxybenzene 2_naphthol",
    "too much vinegar": "1_hexanol acetic_acid hexyl_acetate sulfate",
    "gently now": "4_methoxyacetophenone 2_4_methoxyphenyl_propan_2_ol 4_isopropenylanisole "
    "methane ammonia",
    "bottom layer": "caffeine carbon_dioxide",
    "catch it": "3_pentanol 3_pentanone acetic_acid hypochlorous_acid sulfur_dioxide",
    "there and back": "p_anisaldehyde isopropylamine n_4_methoxybenzyl_propan_2_amine borate "
    "methanol 4_methoxybenzyl_alcohol hydrogen",
    "clingy solvent": "vanillin 1_bromobutane 4_butoxy_3_methoxybenzaldehyde dimethylformamide "
    "ethanol tetrahydrofuran",
    "won't leave": "4_phenylcyclohexanone ethylene_glycol p_toluenesulfonic_acid "
    "4_phenylcyclohexanone_ethylene_ketal toluene",
    "plain aryl alkyl ether": "p_cresol 1_bromobutane 1_butoxy_4_methylbenzene",
}
WHERE_K_IS_NEEDED = ["mtbe", "diethyl_ether", "ethyl_acetate", "dichloromethane", "toluene"]


def read(name: str) -> list[dict[str, str]]:
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines, strict=True))


SUBSTANCES = {row["key"]: row for row in read("substances")}
VALUES = read("values")
ALL_TABLES = sorted(path.stem for path in DATA.glob("*.csv"))
SOURCES = tomllib.loads((DATA / "sources.toml").read_text(encoding="utf-8"))


def value(substance: str, quantity: str) -> float:
    rows = [r for r in VALUES if r["substance"] == substance and r["property"] == quantity]
    assert len(rows) == 1, (substance, quantity)
    return float(rows[0]["value"])


def has_check_digit(cas: str) -> bool:
    digits = [int(d) for d in re.sub("-", "", cas)]
    return sum(i * d for i, d in enumerate(reversed(digits[:-1]), 1)) % 10 == digits[-1]


def test_all_the_tables_are_there() -> None:
    wanted = "substances values antoine partition solvents ions drying_agents hydrate_steps"
    more = "bench_solutions salts dimerisation class_rates"
    assert {*wanted.split(), *more.split()} == set(ALL_TABLES)


@pytest.mark.parametrize("name", ALL_TABLES)
def test_every_row_has_as_many_fields_as_the_header(name: str) -> None:
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        widths = {len(row) for row in csv.reader(lines, strict=True)}
    assert len(widths) == 1


@pytest.mark.parametrize("name", ALL_TABLES)
def test_every_row_names_a_known_source_and_a_grade(name: str) -> None:
    for row in read(name):
        assert row["source"] in SOURCES, row
        assert row["grade"] in {"A", "B", "P"}, row


@pytest.mark.parametrize("name", ALL_TABLES)
def test_grade_a_never_rests_on_memory_practice_or_a_guess(name: str) -> None:
    from_nowhere = {"recalled", "estimate", "practice", "abraham_recalled", "nbs_recalled"}
    from_nowhere |= {"abraham_platts", "rdkit_crippen", "general_solubility_equation"}
    assert not [r for r in read(name) if r["grade"] == "A" and r["source"] in from_nowhere]


def test_every_source_has_a_citation_a_place_and_a_use() -> None:
    used = {row["source"] for name in ALL_TABLES for row in read(name)}
    for path in LOOKUP_DATA.glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as lines:
            used |= {row["source"] for row in csv.DictReader(lines, strict=True)}
    assert used == set(SOURCES)
    for entry in SOURCES.values():
        assert set(entry) == {"citation", "url_or_doi", "note"}
        assert entry["citation"].strip()
        assert entry["url_or_doi"].strip()


@pytest.mark.parametrize(
    ("name", "columns"),
    [
        ("substances", ["key"]),
        ("values", ["substance", "property"]),
        ("antoine", ["substance"]),
        ("partition", ["substance", "solvent"]),
        ("solvents", ["solvent"]),
        ("ions", ["ion"]),
        ("drying_agents", ["agent"]),
        ("hydrate_steps", ["agent", "temperature_C", "from_mol"]),
        ("bench_solutions", ["key"]),
        ("salts", ["salt"]),
        ("dimerisation", ["solvent"]),
    ],
)
def test_keys_are_lowercase_slugs_and_unique(name: str, columns: list[str]) -> None:
    keys = [tuple(row[c] for c in columns) for row in read(name)]
    assert len(keys) == len(set(keys))
    assert all(re.fullmatch(r"[a-z0-9]+(_[a-z0-9]+)*", key[0]) for key in keys)


def test_substances_ions_and_cas_numbers_do_not_collide() -> None:
    ions = {row["ion"] for row in read("ions")}
    assert not ions & set(SUBSTANCES)
    cas = [row["cas"] for row in SUBSTANCES.values() if row["cas"]]
    assert len(cas) == len(set(cas))


@pytest.mark.parametrize("name", ["substances", "drying_agents", "salts"])
def test_cas_numbers_carry_a_right_check_digit(name: str) -> None:
    for row in read(name):
        if row["cas"]:
            assert re.fullmatch(r"\d{2,7}-\d\d-\d", row["cas"])
            assert has_check_digit(row["cas"]), row


def test_only_the_invented_products_lack_a_cas_number() -> None:
    assert {key for key, row in SUBSTANCES.items() if not row["cas"]} == {
        "n_4_methoxybenzyl_propan_2_amine",
        "4_butoxy_3_methoxybenzaldehyde",
        "4_phenylcyclohexanone_ethylene_ketal",
    }


def test_at_least_two_hundred_and_fifty_substances_cover_every_scenario() -> None:
    assert len(SUBSTANCES) >= 250
    for keys in SCENARIO_SUBSTANCES.values():
        assert set(keys.split()) <= set(SUBSTANCES)


def test_classes_charges_hazards_and_molar_masses_are_sane() -> None:
    for row in SUBSTANCES.values():
        assert set(row["classes"].split()) <= CLASSES, row
        assert row["classes"], row
        assert int(row["charge_top"]) in {-1, 0, 1}
        assert 2 < float(row["molar_mass_g_mol"]) < 400
        for code in row["hazards"].split():
            assert re.fullmatch(r"(H[2-4]\d\d|EUH\d{3})[A-Za-z]{0,2}", code), row


def test_every_value_has_its_unit_an_uncertainty_and_a_sane_size() -> None:
    for row in VALUES:
        assert row["substance"] in SUBSTANCES, row
        assert row["unit"] == UNITS[row["property"]], row
        low, high = RANGES[row["property"]]
        assert low <= float(row["value"]) <= high, row
        assert float(row["uncertainty"]) > 0, row


def test_estimates_and_derived_values_say_so() -> None:
    computed = {"estimate", "abraham_platts", "rdkit_crippen", "general_solubility_equation"}
    for name in ("values", "partition", "antoine", "hydrate_steps"):
        for row in read(name):
            if row["source"] in computed:
                assert "derived:" in row["note"], row


def test_pka_values_rise_and_start_at_the_first() -> None:
    found: dict[str, dict[str, float]] = defaultdict(dict)
    for row in VALUES:
        if row["property"].startswith("pKa"):
            found[row["substance"]][row["property"]] = float(row["value"])
    for steps in found.values():
        assert sorted(steps) == ["pKa1", "pKa2", "pKa3"][: len(steps)]
        ordered = [steps[name] for name in sorted(steps)]
        assert ordered == sorted(ordered)


def test_every_base_has_a_pka_and_no_acid_lacks_one() -> None:
    with_pka = {row["substance"] for row in VALUES if row["property"] == "pKa1"}
    for key, row in SUBSTANCES.items():
        classes = set(row["classes"].split())
        if row["charge_top"] == "1" or classes & {"carboxylic_acid", "phenol"}:
            assert key in with_pka, key


def test_no_miscible_liquid_carries_a_water_solubility() -> None:
    miscible = [
        "methanol",
        "ethanol",
        "acetone",
        "acetic_acid",
        "tetrahydrofuran",
        "pyridine",
        "glycerol",
    ]
    miscible += ["dimethylformamide", "dimethyl_sulfoxide", "ethylene_glycol", "isopropylamine"]
    limited = {row["substance"] for row in VALUES if row["property"] == "water_solubility"}
    assert not limited & set(miscible)


def test_every_substance_takes_up_room() -> None:
    roomy = {r["substance"] for r in VALUES if r["property"] in RANGES and "vol" in r["property"]}
    roomy |= {row["substance"] for row in VALUES if row["property"] == "density"}
    assert roomy == set(SUBSTANCES)


def test_twenty_solvents_know_their_water_their_gas_and_their_vapour() -> None:
    rows = {row["solvent"]: row for row in read("solvents")}
    assert set(EXTRACTION_SOLVENTS) == set(rows)
    assert len(rows) >= 20
    vapours = {row["substance"] for row in read("antoine")}
    for key, row in rows.items():
        assert "solvent" in SUBSTANCES[key]["classes"].split()
        for name in ("density", "water_in_solvent", "solvent_in_water", "co2_ostwald"):
            assert value(key, name) > 0
        assert key in vapours
        halogenated = "alkyl_halide" in SUBSTANCES[key]["classes"]
        assert row["halogenated"] == ("yes" if halogenated else "no")
        assert row["waste_stream"] == ("halogenated" if halogenated else "non_halogenated")
        assert row["peroxide_former"] in {"yes", "no"}
        assert 0 < float(row["droplets_uncertainty"]) < float(row["droplets_uL_per_mL"]) < 20


def test_antoine_rows_give_a_pressure_between_a_trace_and_two_atmospheres() -> None:
    for row in read("antoine"):
        assert row["substance"] in SUBSTANCES
        a, b, c = (float(row[x]) for x in "ABC")
        assert 150 < float(row["T_min_K"]) < float(row["T_max_K"]) < 780
        assert 0 < float(row["uncertainty_pct"]) <= 60
        assert 1 < 10 ** (a - b / (298.15 + c)) < 200_000, row


def test_partition_rows_join_known_substances_to_known_solvents() -> None:
    for row in read("partition"):
        assert row["substance"] in SUBSTANCES
        assert row["solvent"] in EXTRACTION_SOLVENTS
        assert row["substance"] != row["solvent"]
        assert -12 < float(row["log10_K"]) < 8
        assert 0.02 <= float(row["uncertainty"]) <= 0.7


def test_every_organic_substance_of_a_scenario_has_the_five_partition_values() -> None:
    rows = {(row["substance"], row["solvent"]) for row in read("partition")}
    for keys in SCENARIO_SUBSTANCES.values():
        for key in keys.split():
            classes = SUBSTANCES[key]["classes"].split()
            if "inorganic" in classes or key == "p_toluenesulfonic_acid":
                continue
            for solvent in WHERE_K_IS_NEEDED:
                assert key == solvent or (key, solvent) in rows


def test_strongly_hydrophilic_species_do_not_extract() -> None:
    stay = {"sulfate", "borate", "phosphate", "p_toluenesulfonic_acid", "methanesulfonic_acid"}
    assert not stay & {row["substance"] for row in read("partition")}


def test_ions_have_charge_mass_and_a_volume() -> None:
    ions = {row["ion"]: row for row in read("ions")}
    wanted = [
        "sodium",
        "potassium",
        "lithium",
        "magnesium",
        "calcium",
        "chloride",
        "bromide",
        "iodide",
        "nitrate",
    ]
    assert set(wanted) <= set(ions)
    for row in ions.values():
        assert int(row["charge"]) in {-2, -1, 1, 2}
        assert -40 < float(row["apparent_molar_volume_mL_mol"]) < 80


def test_rates_are_assumed_of_known_classes_and_with_wide_bands() -> None:
    for row in read("class_rates"):
        assert row["class"] in CLASSES
        assert row["kind"] in {"acid", "base"}
        assert float(row["uncertainty"]) >= 0.5


def test_the_seven_drying_agents_are_described() -> None:
    rows = {row["agent"]: row for row in read("drying_agents")}
    assert len(rows) == 7
    for row in rows.values():
        assert row["form"] in {"powder", "granular", "pellets"}
        assert row["decantable"] in {"yes", "no"}
        assert set(row["incompatible"].split()) <= CLASSES
        for column in ("wetting_mL_per_g", "cake_mL_per_g", "time_constant_min", "T_max_C"):
            assert float(row[column]) > 0
        assert float(row["clump_from_mol_per_mol"]) > 0
    assert {"alcohol", "amine", "phenol", "amide"} <= set(
        rows["calcium_chloride"]["incompatible"].split()
    )
    assert {"carboxylic_acid", "phenol"} <= set(rows["potassium_carbonate"]["incompatible"].split())


def test_hydrate_staircases_climb_without_gaps() -> None:
    agents = {row["agent"] for row in read("drying_agents")}
    stairs: dict[tuple[str, str], list[dict[str, str]]] = defaultdict(list)
    for row in read("hydrate_steps"):
        stairs[row["agent"], row["temperature_C"]].append(row)
    assert {agent for agent, _ in stairs} == agents
    for (agent, _), steps in stairs.items():
        held, last = 0.0, 0.0
        for step in steps:
            assert float(step["from_mol"]) == held
            assert last < float(step["water_activity"]) < 1
            assert float(step["uncertainty_log10"]) > 0
            last = float(step["water_activity"])
            if step["to_mol"] == "solution":
                assert step is steps[-1]
            else:
                assert float(step["to_mol"]) > held
                held = float(step["to_mol"])
        dissolves = steps[-1]["to_mol"] == "solution"
        assert dissolves != agent.startswith("sieves")


def test_a_column_that_nothing_computes_with_only_says_where_a_row_comes_from(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A column of acidity notes changed nothing anywhere."""
    asked: dict[str, set[str]] = defaultdict(set)
    there: dict[str, set[str]] = {}

    class Row(dict[str, str]):
        """A row that remembers what it was asked for."""

        table = ""

        def __getitem__(self, column: str) -> str:
            asked[self.table].add(column)
            return super().__getitem__(column)

    def rows(name: str) -> list[Row]:
        found = []
        for plain in read(name):
            there[name] = set(plain)
            found.append(Row(plain))
            found[-1].table = name
        return found

    read = reading._rows
    monkeypatch.setattr(reading, "_rows", rows)
    for cached in (c for c in vars(reading).values() if hasattr(c, "__wrapped__")):
        monkeypatch.setattr(reading, cached.__name__, cached.__wrapped__)
    reading.tables()
    assert len(there) >= 10
    for name, columns in there.items():
        unread = columns - asked[name]
        assert unread <= {"note", "cas", "formula", "temperature_C"}, name


def test_solubilities_by_the_general_equation_are_what_it_says() -> None:
    """log10(S/(mol/L)) = 0.5 - 0.01 (mp - 25) - log Kow, for a liquid as if it
    melted at 25 C; to 5 %."""
    melts = {r["substance"] for r in VALUES if r["property"] == "melting_point"}
    computed = [r for r in VALUES
                if r["source"] == "general_solubility_equation" and r["substance"] in melts]
    assert len(computed) > 50
    for row in computed:
        key = row["substance"]
        above = max(0.0, value(key, "melting_point") - 25)
        molar = 10 ** (0.5 - 0.01 * above - value(key, "log_kow"))
        expected = molar * float(SUBSTANCES[key]["molar_mass_g_mol"])
        assert float(row["value"]) == pytest.approx(expected, rel=0.05), key
        assert float(row["uncertainty"]) > 0.5 * float(row["value"])
