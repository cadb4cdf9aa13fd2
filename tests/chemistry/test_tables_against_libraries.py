"""The tables agree with general-purpose libraries, each number within a stated tolerance.

Molar masses against RDKit, constants against the data files of ``chemicals`` (tables named,
estimating methods refused), solution densities against the Laliberte model written out here.
"""

from __future__ import annotations

import csv
import math
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path
from statistics import median

import chemicals
import pytest
from chemicals import vapor_pressure, volume
from chemicals.environment import logP
from chemicals.phase_change import Tb, Tb_methods, Tm, Tm_methods
from rdkit.Chem import Descriptors, MolFromSmiles

DATA = Path(__file__).parents[2] / "workups" / "chemistry" / "data"
MEASURED = ("CRC_ORG", "CRC_INORG", "WEBBOOK", "YAWS", "OPEN_NTBKM", "COMMON_CHEMISTRY")
ZERO_C = 273.15
ROOM_K = 298.15
# A table of the library is plainly wrong here; each was looked at, see the notes in values.csv.
MIXTURES = {"petroleum_ether_40_60", "petroleum_ether_60_80"}
BOILING_POINT_SLIPS: dict[str, str] = {
    "3_pentanol": "the CRC table says 123 C, two others 115 C",
}
MELTING_POINT_SLIPS: dict[str, str] = {
    "n_methylbenzylamine": "one table says +60 C, two others -55 C",
    "4_methoxybenzylamine": "one table says 181 C for a liquid, two others -10 C",
}


def read(name: str) -> list[dict[str, str]]:
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines, strict=True))


SUBSTANCES = {row["key"]: row for row in read("substances")}


def values(quantity: str) -> dict[str, dict[str, str]]:
    return {row["substance"]: row for row in read("values") if row["property"] == quantity}


def measured(
    look_up: Callable[..., float | None], methods: Callable[[str], list[str]], cas: str
) -> dict[str, float]:
    """Temperatures [C] of one substance in the library's measured tables, estimates refused."""
    found = {m: look_up(cas, method=m) for m in methods(cas) if m in MEASURED}
    return {m: kelvin - ZERO_C for m, kelvin in found.items() if kelvin}


def test_molar_masses_agree_with_rdkit() -> None:
    """To 0.02 g/mol, the spread of standard atomic weights between editions."""
    for key, row in SUBSTANCES.items():
        if key in MIXTURES:
            continue
        ours = float(row["molar_mass_g_mol"])
        assert ours == pytest.approx(Descriptors.MolWt(MolFromSmiles(row["smiles"])), abs=0.02)


def test_structures_name_the_substance_their_cas_number_names() -> None:
    """Formula masses against the identifier file of ``chemicals``, to 0.05 g/mol."""
    checked = 0
    for key, row in SUBSTANCES.items():
        if not row["cas"] or key in MIXTURES:
            continue
        try:
            library = chemicals.MW(row["cas"])
        except ValueError:
            continue
        checked += 1
        assert float(row["molar_mass_g_mol"]) == pytest.approx(library, abs=0.05), key
    assert checked > 130


def test_ion_and_salt_masses_add_up() -> None:
    """Against ``chemicals`` for every salt, to 0.05 g/mol."""
    for row in read("salts") + read("drying_agents"):
        if row.get("agent", "").startswith("sieves"):
            continue
        assert float(row["molar_mass_g_mol"]) == pytest.approx(chemicals.MW(row["cas"]), abs=0.05)


def test_boiling_points_agree_with_the_median_of_the_measured_tables() -> None:
    """Within 4 C or three times the stated uncertainty, the greater."""
    for key, row in values("boiling_point").items():
        if key in MIXTURES:
            continue
        tables = measured(Tb, Tb_methods, SUBSTANCES[key]["cas"])
        if key in BOILING_POINT_SLIPS:
            tables.pop("CRC_ORG")
        room = max(4.0, 3 * float(row["uncertainty"]))
        assert float(row["value"]) == pytest.approx(median(tables.values()), abs=room), key


def test_melting_points_agree_with_the_measured_tables() -> None:
    """Within 6 C or twice the stated uncertainty of their median, or of two of them."""
    for key, row in values("melting_point").items():
        tables = measured(Tm, Tm_methods, SUBSTANCES[key]["cas"])
        if key in MELTING_POINT_SLIPS:
            tables.pop("COMMON_CHEMISTRY")
        ours, room = float(row["value"]), max(6.0, 2 * float(row["uncertainty"]))
        close = sum(abs(ours - celsius) <= room for celsius in tables.values())
        assert close >= 2 or abs(ours - median(tables.values())) <= room, key


def test_octanol_partition_agrees_with_the_measured_tables() -> None:
    for key, row in values("log_kow").items():
        if row["grade"] != "A":
            continue
        method = {"chemicals_syrres": "SYRRES", "chemicals_crc_logp": "CRC"}[row["source"]]
        library = logP(SUBSTANCES[key]["cas"], method=method)
        assert float(row["value"]) == pytest.approx(library, abs=0.005), key


def density_by_perry(cas: str) -> float | None:
    """Liquid density [g/mL] at 20 C by equation 105 of Perry's table, mol/m3 to g/mL."""
    table = volume.rho_data_Perry_8E_105_l
    if cas not in table.index or table.loc[cas, "Tmin"] > ZERO_C + 20:
        return None
    row = table.loc[cas]
    molar = chemicals.dippr.EQ105(ZERO_C + 20, row["C1"], row["C2"], row["C3"], row["C4"])
    return molar * chemicals.MW(cas) * 1e-6


def density_by_vdi(cas: str) -> float | None:
    """Liquid density [g/mL] at 20 C by the VDI equation, kg/m3 to g/mL."""
    table = volume.rho_data_VDI_PPDS_2
    if cas not in table.index:
        return None
    row = table.loc[cas]
    tau = 1 - (ZERO_C + 20) / row["Tc"]
    terms = zip("ABCD", (0.35, 2 / 3, 1.0, 4 / 3), strict=True)
    return (row["rhoc"] + sum(row[name] * tau**power for name, power in terms)) * 1e-3


def test_densities_agree_with_perry_or_vdi() -> None:
    """Within 0.6 % of the nearer of the two equations; they differ from each other as much."""
    checked = 0
    for key, row in values("density").items():
        cas = SUBSTANCES[key]["cas"]
        library = [d for d in (density_by_perry(cas), density_by_vdi(cas)) if d] if cas else []
        if not library:
            continue
        checked += 1
        ours = float(row["value"])
        assert min(abs(ours / d - 1) for d in library) < 0.006, (key, ours, library)
    assert checked > 40


def pressures(cas: str) -> dict[str, float]:
    """Vapour pressure [Pa] at 25 C from each table of ``chemicals`` that covers 25 C."""
    found = {}
    table = vapor_pressure.Psat_data_AntoinePoling
    if cas in table.index and table.loc[cas, "Tmin"] <= ROOM_K:
        row = table.loc[cas]
        found["poling"] = 10 ** (row["A"] - row["B"] / (ROOM_K + row["C"]))
    table = vapor_pressure.Psat_data_Perrys2_8
    if cas in table.index and table.loc[cas, "Tmin"] <= ROOM_K:
        row = table.loc[cas]
        found["perry"] = chemicals.dippr.EQ101(
            ROOM_K, row["C1"], row["C2"], row["C3"], row["C4"], row["C5"]
        )
    table = vapor_pressure.Psat_data_Landolt_Antoine
    if cas in table.index and table.loc[cas, "Tmin"] <= ROOM_K <= table.loc[cas, "Tmax"]:
        row = table.loc[cas]
        found["landolt"] = math.exp(row["A"] - row["B"] / (ROOM_K + row["C"]))
    return found


def our_pressure(row: dict[str, str], kelvin: float) -> float:
    a, b, c = (float(row[x]) for x in "ABC")
    return 10 ** (a - b / (kelvin + c))


def test_vapour_pressures_agree_with_a_table_that_covers_room_temperature() -> None:
    """Within 2 % of the nearest table, or the stated uncertainty where that is greater."""
    checked = 0
    for row in read("antoine"):
        tables = pressures(SUBSTANCES[row["substance"]]["cas"])
        if not tables or row["substance"] == "petroleum_ether_40_60":
            continue
        checked += 1
        ours = our_pressure(row, ROOM_K)
        room = max(0.02, float(row["uncertainty_pct"]) / 100)
        assert min(abs(ours / p - 1) for p in tables.values()) < room, row
    assert checked > 40


def test_vapour_pressures_reach_one_atmosphere_at_the_boiling_point() -> None:
    """Within 10 % where the row's range comes within 30 C of the boiling point, else 60 %."""
    boiling = values("boiling_point")
    for row in read("antoine"):
        key = row["substance"]
        if key not in boiling or key in MIXTURES:
            continue
        kelvin = float(boiling[key]["value"]) + ZERO_C
        near = float(row["T_max_K"]) > kelvin - 30
        assert abs(math.log(our_pressure(row, kelvin) / 101_325)) < math.log(
            1.10 if near else 1.6
        ), key


def laliberte_density(cas: str, mass_fraction: float, celsius: float) -> float:
    """Density [g/mL] of one salt in water.

    Laliberte and Cooper, J. Chem. Eng. Data 2004, 49, 1141; constants of Laliberte 2009 from
    the electrolyte file of ``chemicals``.
    """
    path = Path(chemicals.__file__).parent / "Electrolytes" / "Laliberte2009.tsv"
    with path.open(encoding="utf-8") as lines:
        rows = {row[1].strip(): row for row in csv.reader(lines, delimiter="\t")}
    c0, c1, c2, c3, c4 = (float(x) for x in rows[cas][4:9])
    t, w = celsius, mass_fraction
    solute = (c0 * w + c1) * math.exp(1e-6 * (t + c4) ** 2) / (w + c2 + c3 * t)
    top = (((-2.8054253e-10 * t + 1.0556302e-7) * t - 4.6170461e-5) * t - 0.0079870401) * t
    water = ((top + 16.945176) * t + 999.83952) / (1 + 0.01687985 * t)
    return 1 / ((1 - w) / water + w / solute) / 1000


@pytest.mark.parametrize(
    ("key", "cas", "mass_fraction", "celsius"),
    [
        ("brine", "7647-14-5", 0.264, 25),
        ("nahco3_5pct", "144-55-8", 0.05, 20),
        ("nahco3_sat", "144-55-8", 0.0875, 20),
        ("na2co3_5pct", "497-19-8", 0.05, 20),
        ("na2co3_10pct", "497-19-8", 0.10, 20),
        ("k2co3_10pct", "584-08-7", 0.10, 20),
        ("nh4cl_sat", "12125-02-9", 0.271, 20),
        ("licl_5pct", "7447-41-8", 0.05, 20),
        ("nahso3_10pct", "7631-90-5", 0.10, 20),
        ("na2s2o3_10pct", "7772-98-7", 0.10, 20),
        ("na2so4_10pct", "7757-82-6", 0.10, 20),
    ],
)
def test_solution_densities_and_contents_follow_from_the_mass_fraction(
    key: str, cas: str, mass_fraction: float, celsius: float
) -> None:
    """Density to 0.0005 g/mL, every component to 0.3 % of mass fraction over molar mass."""
    row = next(r for r in read("bench_solutions") if r["key"] == key)
    salt = next(r for r in read("salts") if r["cas"] == cas)
    density = laliberte_density(cas, mass_fraction, celsius)
    assert float(row["density_g_mL"]) == pytest.approx(density, abs=0.0005)
    salt_mmol_mL = mass_fraction * density / float(salt["molar_mass_g_mol"]) * 1000
    ours = dict(part.split(":") for part in row["components"].split(";"))
    per_salt = dict(part.split(":") for part in salt["components"].split(";"))
    assert set(ours) == set(per_salt)
    for name, moles in per_salt.items():
        assert float(ours[name]) == pytest.approx(float(moles) * salt_mmol_mL, rel=0.003)


@pytest.mark.parametrize(
    ("key", "cas", "molarity"),
    [
        ("hcl_1m", "7647-01-0", 1.0),
        ("hcl_3m", "7647-01-0", 3.0),
        ("hcl_6m", "7647-01-0", 6.0),
        ("naoh_1m", "1310-73-2", 1.0),
        ("naoh_3m", "1310-73-2", 3.0),
        ("naoh_6m", "1310-73-2", 6.0),
        ("h2so4_1m", "7664-93-9", 1.0),
        ("nh3_2m", "7664-41-7", 2.0),
    ],
)
def test_molar_solutions_have_the_density_of_their_strength(
    key: str, cas: str, molarity: float
) -> None:
    """To 0.001 g/mL at 20 C, the mass fraction taken from our density."""
    row = next(r for r in read("bench_solutions") if r["key"] == key)
    density = float(row["density_g_mL"])
    mass_fraction = molarity * chemicals.MW(cas) / 1000 / density
    assert density == pytest.approx(laliberte_density(cas, mass_fraction, 20), abs=0.001)


def value(substance: str, quantity: str) -> float:
    return float(values(quantity)[substance]["value"])


@pytest.mark.parametrize(
    ("solvent", "low_mg_mL", "high_mg_mL"),
    [("diethyl_ether", 8, 10), ("ethyl_acetate", 20, 30), ("hexane", 0.05, 0.15)],
)
def test_dissolved_water_agrees_with_karl_fischer_titration(
    solvent: str, low_mg_mL: float, high_mg_mL: float
) -> None:
    """Titrated after partition with water, room temperature not given.

    "Drying ability of anhydrous sodium sulfate on wet organic solvents after liquid-liquid
    partition", abstract, CiNii 1390282679199819392: 8-10, 20-30 and "about 0.1" mg/mL; the last
    is read as within a factor of two.
    """
    held_mg_mL = value(solvent, "water_in_solvent") / 100 * value(solvent, "density") * 1000
    assert low_mg_mL <= held_mg_mL <= high_mg_mL


@pytest.mark.parametrize(
    ("solvent", "carried_mg_mL"),
    [
        ("diethyl_ether", 11),
        ("mtbe", 19),
        ("ethyl_acetate", 58),
        ("dichloromethane", 20),
    ],
)
def test_two_liquid_stripping_carries_the_expected_water(
    solvent: str, carried_mg_mL: float
) -> None:
    """Water in the vapour over both liquids at 40 C per mL of solvent; to 8 %.

    The figures were computed independently from published vapour pressures.
    """
    rows = {row["substance"]: row for row in read("antoine")}
    ratio = our_pressure(rows["water"], 313.15) / our_pressure(rows[solvent], 313.15)
    solvent_mmol_mL = 1000 * value(solvent, "density")
    solvent_mmol_mL /= float(SUBSTANCES[solvent]["molar_mass_g_mol"])
    assert ratio * solvent_mmol_mL * 18.015 == pytest.approx(carried_mg_mL, rel=0.08)


def test_library_slips_are_still_there() -> None:
    """The slips we work round; if a library mends one, the work-round can go."""
    assert Tb("584-02-1", method="CRC_ORG") - ZERO_C == pytest.approx(123, abs=1)
    assert Tm("109-65-9", method="WEBBOOK") - ZERO_C == pytest.approx(109, abs=1)


def test_no_value_comes_from_an_estimating_method() -> None:
    named = defaultdict(set)
    for row in read("values"):
        named[row["property"]].add(row["source"])
    for quantity in ("boiling_point", "melting_point"):
        assert not {s for s in named[quantity] if "joback" in s or "estimate" in s}
