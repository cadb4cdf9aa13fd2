"""The links of a course's header. A new page for everyday use gets its line here."""

from dataclasses import dataclass

from django.urls import reverse

from workups.models import Role
from workups.web.access import EVERYONE, INSTRUCTOR, STUDENT, TEACHING, CourseAccess


@dataclass(frozen=True)
class NavigationEntry:
    """A link to a page that takes only the course's public id, and who sees it."""

    label: str
    url_name: str
    roles: frozenset[Role]


@dataclass(frozen=True)
class NavigationLink:
    label: str
    url: str
    is_current: bool


COURSE_ENTRIES = (
    NavigationEntry("Overview", "show-course", EVERYONE),
    NavigationEntry("My work", "list-work", STUDENT),
    NavigationEntry("Exercises", "list-exercises", INSTRUCTOR),
    NavigationEntry("Review", "review-queue", TEACHING),
    NavigationEntry("Prep sheets", "list-prep-sheets", frozenset({Role.STOCKROOM})),
    NavigationEntry("Marks", "export-gradebook", INSTRUCTOR),
    NavigationEntry("Roster", "show-roster", INSTRUCTOR),
    NavigationEntry("Settings", "edit-course", INSTRUCTOR),
)


def course_links(access: CourseAccess, current_path: str) -> list[NavigationLink]:
    links = []
    for entry in COURSE_ENTRIES:
        if access.role not in entry.roles:
            continue
        url = reverse(entry.url_name, args=[access.course.public_id])
        links.append(NavigationLink(entry.label, url, current_path == url))
    return links
