"""Invented names, dealt out in a fixed order."""

from dataclasses import dataclass

GIVEN = (
    "Ailo",
    "Brisa",
    "Cato",
    "Delwyn",
    "Eszti",
    "Farro",
    "Gwilla",
    "Hanno",
    "Ines",
    "Jovan",
    "Kirsa",
    "Lumi",
    "Marek",
    "Nadja",
    "Orla",
    "Pavo",
    "Quilla",
    "Ruben",
    "Sanna",
    "Tamsin",
    "Udo",
    "Vesna",
    "Wilmar",
    "Xenia",
    "Yara",
    "Zoltan",
    "Åsa",
    "Bjørk",
    "Çelik",
    "Émile",
    "Noor",
    "Teodora",
)
FAMILY = (
    "Alderfen",
    "Brackwater",
    "Corrigan-Low",
    "Dunmarrow",
    "Elmsgate",
    "Fennimore",
    "Garrowby",
    "Hollin",
    "Ironmere",
    "Jessop-Vale",
    "Kestrell",
    "Larchwood",
    "Morrowdale",
    "Nethersole",
    "Oakhanger",
    "Pellinor",
    "Quarrington",
    "Rushmere",
    "Sallowfield",
    "Thornwick",
    "Umberleigh",
    "Vintner",
    "Wetherlam",
    "Yarrowby",
)
SECTIONS = (
    ("Monday", "Mon 13:00, room 214"),
    ("Tuesday", "Tue 09:00, room 214"),
    ("Wednesday", "Wed 13:00, room 216"),
    ("Thursday", "Thu 09:00, room 216"),
)
PER_SECTION = 16


@dataclass(frozen=True)
class InventedPerson:
    """Someone of the demo course: sign-in name, name and, for a student, the section."""

    sign_in: str
    name: str
    section: str = ""


INSTRUCTOR = InventedPerson("instructor", "Dr. Maren Holloway-Sedge")
TAS = (InventedPerson("ta1", "Pim Osterly"), InventedPerson("ta2", "Rhona Calder"))
STOCKROOM = InventedPerson("stockroom", "Gerrit Vannes")


def students(per_section: int = PER_SECTION) -> list[InventedPerson]:
    """The students of the four sections: student01, student02 and so on. No name comes twice."""
    found = []
    for number in range(len(SECTIONS) * per_section):
        given = GIVEN[number % len(GIVEN)]
        family = FAMILY[(number * 7 + number // len(GIVEN)) % len(FAMILY)]
        section = SECTIONS[number // per_section][0]
        found.append(InventedPerson(f"student{number + 1:02}", f"{given} {family}", section))
    return found
