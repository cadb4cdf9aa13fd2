"""What a structure alone says, by RDKit: formula, molar mass, classes, drawing."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from workups.chemistry.quantity import Quantity

if TYPE_CHECKING:
    from rdkit.Chem import Mol

MAX_ATOMS = 100
MOLAR_MASS_UNCERTAINTY = 0.01
CRIPPEN_UNCERTAINTY = 0.55

# Functional groups as SMARTS, in the words of the core's classes.
CLASS_PATTERNS = {
    "carboxylic_acid": "[CX3](=O)[OX2H1]",
    "phenol": "[OX2H1]c",
    "alcohol": "[OX2H1][CX4;!$(C([OX2H1])[OX2H0])]",
    "tertiary_alcohol": "[OX2H1][CX4]([#6])([#6])[#6]",
    "ether": "[OX2H0;!$(O[CX3]=[O,N,S])]([#6])[#6]",
    "acetal": "[CX4]([OX2H0][#6])[OX2H0][#6]",
    "ester": "[CX3;!$(C(=O)(O)O)](=O)[OX2H0][#6]",
    "ketone": "[#6][CX3](=O)[#6]",
    "aldehyde": "[CX3H1](=O)[#6]",
    "amide": "[CX3,SX4;$(C=O),$(S(=O)=O)][NX3]",
    "amine": "[$([NX3;!$(NC=[O,S,N]);!$(NS(=O)=O);!$(N-C#N);!$([N+](=O));!$(N~[O,N])]),"
             "$([n;X2])]",
    "nitro": "[$([NX3](=O)=O),$([NX3+](=O)[O-])]",
    "alkyl_halide": "[CX4][Cl,Br,I]",
    "alkene": "[CX3;!$(C=[O,N,S])]=[CX3;!$(C=[O,N,S])]",
    "arene": "c1cccc[c,n]1",
}
# Whatever of these gives off or takes up a proton between about pH 0 and 14 and needs a pKa. A
# pattern begins at the atom that says which class of ``acidity`` the group is in.
IONISABLE = {
    "carboxylic_acid": "[CX3](=O)[OX2H1]",
    "sulfonic acid": "S(=O)(=O)[OX2H1]",
    "phosphorus acid": "[P,As][OX2H1]",
    "phenol": "[OX2H1]c",
    "thiol": "[SX2H1]",
    "amine": "[NX3;!$(NC=[O,S,N]);!$(NS(=O)=O);!$(N-C#N);!$([N+](=O));!$(N~[O,N])]",
    "pyridine or imidazole nitrogen":
        "[n;X2;!$(n1cnnn1);!$(n1ncnn1);!$(n1nncn1);!$(n1nnnc1)]",
    "amidine or guanidine": "[CX3;$(C([NX3])=[NX2])]",
    "imide or sulfonamide N-H": "[NX3H1,NX3H2;$(N(C=O)C=O),$(NS(=O)=O)]",
    "hydrazine or hydroxylamine nitrogen":
        "[NX3;$(N[NX3;!+]),$(N[OX2]);!$(N[C,S,P]=[O,S,N]);!$(N=*);!+]",
    "hydroxamic acid": "[NX3;$(N([OX2H1])C=O)]",
    "tetrazole N-H": "[nX3H1;$(n1cnnn1),$(n1ncnn1),$(n1nncn1),$(n1nnnc1)]",
    "mineral acid": "[$([F,Cl,Br,I;H1]),$([OX2H1][N+](=O)[O-]),$([OX2H1][Cl,Br,I])]",
    "hydrogen chalcogenide or cyanide": "[$([SX2H2]),$([SeX2H2]),$([CX2H1]#[NX1])]",
    "boronic or boric acid": "[BX3;$(B[OX2H1])]",
    "peroxide O-H": "[OX2H1][OX2]",
    "1,3-dicarbonyl C-H": "[CX4;H1,H2;$(C(C(=O)[#6])C(=O)[#6])]",
    "nitroalkane C-H": "[CX4;H1,H2,H3;$(C[NX3+](=O)[O-])]",
}
BASES = ("amine", "pyridine or imidazole nitrogen", "amidine or guanidine",
         "hydrazine or hydroxylamine nitrogen")
# What water or alcohol turns into something else while it is worked up, as SMARTS.
REACTS_WITH_WATER = {
    "acyl or sulfonyl halide": "[CX3,SX4;$(C=O),$(S(=O)=O)][F,Cl,Br,I]",
    "anhydride": "[CX3](=O)[OX2][CX3]=O",
    "isocyanate": "N=C=O",
    "halide of boron, silicon, phosphorus or sulfur":
        "[B,Si,P,$([SX3;$(S=O)]),SX2][F,Cl,Br,I]",
}


@dataclass(frozen=True)
class Structure:
    """A structure: canonical SMILES, formula, InChIKey, molar mass, classes, ionisable groups.

    ``ionisable`` names the groups; a base that takes up a proton counts with its conjugate acid.
    ``reacts_with_water`` names what the simulation would wrongly carry through unchanged.
    """

    smiles: str
    formula: str
    inchi_key: str
    molar_mass: Quantity
    classes: frozenset[str]
    ionisable: tuple[str, ...]
    parts: int
    reacts_with_water: tuple[str, ...] = ()

    @property
    def charge_top(self) -> int:
        """Charge of the form with all its protons: +1 for each basic group."""
        return sum(1 for group in self.ionisable if group in BASES)


class NotAStructureError(ValueError):
    """The text is no SMILES of a substance that can be drawn."""


def molecule_of(smiles: str) -> Mol:
    """RDKit's molecule of a SMILES; NotAStructureError where the text is none."""
    from rdkit import Chem, rdBase

    with rdBase.BlockLogs():
        molecule = Chem.MolFromSmiles(smiles)
    if molecule is None or not molecule.GetNumAtoms():
        raise NotAStructureError(f"{smiles[:80]!r} is not a structure in SMILES notation")
    if molecule.GetNumAtoms() > MAX_ATOMS:
        raise NotAStructureError(f"more than {MAX_ATOMS} atoms besides hydrogen")
    return molecule


@lru_cache(maxsize=256)
def _pattern(smarts: str) -> Mol:
    from rdkit import Chem

    return Chem.MolFromSmarts(smarts)


def count_matches(molecule: Mol, smarts: str) -> int:
    """How often a SMARTS pattern occurs in a molecule, each set of atoms once."""
    return len(first_atoms(molecule, smarts))


def first_atoms(molecule: Mol, smarts: str) -> list[int]:
    """Where a SMARTS pattern begins each time it occurs in a molecule."""
    return [match[0] for match in molecule.GetSubstructMatches(_pattern(smarts))]


@lru_cache(maxsize=1024)
def read_structure(smiles: str) -> Structure:
    """A structure from SMILES; NotAStructureError where the text is none.

    >>> structure = read_structure("OC(=O)c1ccccc1")
    >>> structure.formula, round(structure.molar_mass.value, 2), structure.ionisable
    ('C7H6O2', 122.12, ('carboxylic_acid',))
    """
    from rdkit import Chem, rdBase
    from rdkit.Chem.inchi import MolToInchiKey
    from rdkit.Chem.rdMolDescriptors import CalcMolFormula, _CalcMolWt

    molecule = molecule_of(smiles)
    with rdBase.BlockLogs():
        inchi_key: str = MolToInchiKey(molecule)  # type: ignore[no-untyped-call]
    return Structure(
        Chem.MolToSmiles(molecule),
        CalcMolFormula(molecule),
        inchi_key,
        Quantity(_CalcMolWt(molecule), "g/mol", MOLAR_MASS_UNCERTAINTY, "rdkit", "A",
                 "from the structure"),
        frozenset(name for name, s in CLASS_PATTERNS.items() if count_matches(molecule, s)),
        tuple(name for name, s in IONISABLE.items() for _ in range(count_matches(molecule, s))),
        len(Chem.GetMolFrags(molecule)),
        tuple(name for name, s in REACTS_WITH_WATER.items() if count_matches(molecule, s)),
    )


def crippen_log_kow(smiles: str) -> Quantity:
    """log10 of the octanol-water partition from atom contributions, an estimate.

    Sum over atom types of Wildman and Crippen, J. Chem. Inf. Comput. Sci. 1999, 39, 868
    (https://doi.org/10.1021/ci990307l). On the 273 measured ones of our tables it is 0.44 off
    on average, 1.8 at worst, root mean square 0.55: its standard uncertainty here.

    >>> crippen_log_kow("COc1ccccc1").uncertainty
    0.55
    """
    from rdkit.Chem.rdMolDescriptors import CalcCrippenDescriptors

    log_p = float(CalcCrippenDescriptors(molecule_of(smiles))[0])
    return Quantity(round(log_p, 2), "1", CRIPPEN_UNCERTAINTY,
                    "rdkit_crippen", "B", "estimate from structure by atom contributions")


def structure_svg(smiles: str, width: int = 260, height: int = 180) -> str:
    """The structure drawn as an SVG element that takes the colour of the text around it.

    It has no XML head, no styles (every colour is ``currentColor``) and a title that says what it
    is, so it can stand in a page under a strict policy, light or dark. NotAStructureError where
    the text is no SMILES.

    >>> structure_svg("CCO").startswith("<svg ")
    True
    """
    from rdkit.Chem.Draw import rdMolDraw2D

    molecule = molecule_of(smiles)
    drawer = rdMolDraw2D.MolDraw2DSVG(width, height)
    drawer.drawOptions().useBWAtomPalette()
    rdMolDraw2D.PrepareAndDrawMolecule(drawer, molecule)
    drawer.FinishDrawing()
    return _plain_svg(drawer.GetDrawingText(), read_structure(smiles).formula, width, height)


def _plain_svg(drawn: str, formula: str, width: int, height: int) -> str:
    """RDKit's drawing without head, classes and style attributes."""
    import xml.etree.ElementTree as ET

    root = ET.fromstring(drawn)  # noqa: S314
    title = f"Structure of {formula}"
    parts = [f"<title>{title}</title>"]
    for element in root.iter():
        if element.tag.rpartition("}")[2] == "path":
            parts.append(_plain_path(element.attrib))
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
            f'width="{width}" height="{height}" role="img">{"".join(parts)}</svg>')


def _plain_path(attributes: dict[str, str]) -> str:
    style = dict(pair.split(":", 1) for pair in attributes.get("style", "").split(";") if pair)
    filled = attributes.get("fill") or style.get("fill", "none")
    fill = "none" if filled == "none" else "currentColor"
    width = style.get("stroke-width", "").removesuffix("px")
    line = ' stroke="currentColor" stroke-linecap="round" stroke-width='
    stroke = f'{line}"{width}"' if width else ""
    return f'<path d="{attributes["d"]}" fill="{fill}"{stroke}/>'
