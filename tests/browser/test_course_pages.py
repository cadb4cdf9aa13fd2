"""The course's pages in a real browser: policy kept, used by keyboard, no scrolling sideways."""

from pathlib import Path

from django.test import Client
from django.urls import reverse
from pyotp import TOTP

from tests.browser.accessible import assert_accessible
from workups.models import SecondStep
from workups.services.accounts import Site, password_link
from workups.services.second_step import key_of

WIDTHS = (360, 820, 1440)
ROSTER = "name,sign_in,role,section\n李 雷,lilei,student,Tuesday A\nZoë Ångström,zoe,TA,Tuesday A\n"


def pages_of(course):
    return [
        "/",
        reverse("show-course", args=[course.public_id]),
        reverse("show-roster", args=[course.public_id]),
        reverse("upload-roster", args=[course.public_id]),
        reverse("edit-course", args=[course.public_id]),
        reverse("show-profile"),
        reverse("set-up-second-step"),
    ]


def test_pages_fit_every_width_and_break_no_accessibility_rule(
    new_page, course, section, instructor, student
):
    page = new_page(instructor)
    for path in pages_of(course):
        page.goto(path)
        assert_accessible(page)


def test_devices_are_signed_out_by_keyboard_and_without_javascript(
    new_page, instructor, student, enrolment_of
):
    others = [signed_in_elsewhere(person) for person in (instructor, student)]
    page = new_page(instructor)
    page.goto(reverse("show-profile"))
    assert_accessible(page)
    page = new_page(instructor, java_script_enabled=False, viewport={"width": 360, "height": 740})
    page.goto(reverse("show-profile"))
    page.get_by_label("All of these").focus()
    page.keyboard.press("Space")
    page.keyboard.press("Tab")
    page.keyboard.type("correct horse")
    page.keyboard.press("Enter")
    page.get_by_text("Every other device is signed out.").wait_for()
    page.goto(reverse("show-enrolment", args=[enrolment_of(student).public_id]))
    page.get_by_text("Sign out on every device").press("Enter")
    page.get_by_role("button", name="Yes, sign Stina Student out").press("Enter")
    page.get_by_text("Stina Student is signed out on every device.").wait_for()
    assert [other.get("/me/").status_code for other in others] == [302, 302]


def signed_in_elsewhere(person) -> Client:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


def test_pages_before_sign_in_do_so_too(new_page, student):
    page = new_page(None)
    for path in (reverse("sign-in"), reverse("forgot-password")):
        page.goto(path)
        assert_accessible(page)
    page.goto(password_link(student, Site(origin="")))
    assert_accessible(page)
    page.get_by_label("New password", exact=True).fill("short")
    page.get_by_role("button", name="Set the password").click()
    page.get_by_label("New password confirmation").fill("shorter")
    page.get_by_role("button", name="Set the password").click()
    page.get_by_text("Not saved yet").wait_for()
    assert_accessible(page)


def test_a_second_step_is_set_up_and_used_without_javascript(new_page, ta):
    page = new_page(None, java_script_enabled=False, viewport={"width": 360, "height": 740})
    sign_in(page)
    page.goto(reverse("set-up-second-step"))
    step = SecondStep.objects.get(person=ta)
    assert page.locator("main img").bounding_box()["width"] > 150
    page.get_by_label("Code").fill(TOTP(key_of(step)).now())
    page.get_by_label("Your password").fill("correct horse")
    page.get_by_role("button", name="Turn it on").click()
    code = page.locator("main li").first.inner_text()
    page.get_by_role("link", name="I have them").click()
    page.get_by_text("Menu").click()
    page.get_by_role("button", name="Sign out").click()
    sign_in(page)
    page.get_by_label("Code").fill("000000")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_text("This code is wrong").wait_for()
    page.get_by_label("Code").fill(code)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_text("Menu").click()
    page.get_by_role("button", name="Sign out").wait_for()


def sign_in(page) -> None:
    page.goto(reverse("sign-in"))
    page.get_by_label("Sign-in name").fill("tariq.assistant")
    page.get_by_label("Password").fill("correct horse")
    page.get_by_role("button", name="Sign in").click()


def test_a_preview_with_mistakes_fits_a_phone(new_page, course, section, instructor):
    page = new_page(instructor, viewport={"width": 360, "height": 740})
    page.goto(reverse("upload-roster", args=[course.public_id]))
    for text, heading in ((ROSTER, "What would change"), (ROSTER + "X,x y,,\n", "mistakes in")):
        page.get_by_label("or its text").fill(text)
        page.get_by_role("button", name="Show what would change").click()
        page.get_by_role("heading", name=heading).wait_for()
        assert_accessible(page)


def test_the_first_tab_stop_leads_to_the_content(new_page, course, instructor):
    page = new_page(instructor)
    page.goto(reverse("show-course", args=[course.public_id]))
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"


def test_a_roster_is_brought_without_javascript(
    new_page, course, section, instructor, tmp_path: Path
):
    page = new_page(instructor, java_script_enabled=False)
    page.goto(reverse("upload-roster", args=[course.public_id]))
    file = tmp_path / "roster.csv"
    file.write_text(ROSTER, encoding="utf-8")
    page.get_by_label("Roster file").set_input_files(file)
    page.get_by_role("button", name="Show what would change").click()
    page.get_by_role("button", name="Apply these changes").click()
    page.get_by_text("The roster is applied.").wait_for()
    assert page.get_by_role("row", name="李 雷").is_visible()
    assert page.get_by_role("row", name="Zoë Ångström").is_visible()


def test_the_roster_is_searched_while_typing(new_page, course, section, instructor, student):
    page = new_page(instructor)
    page.goto(reverse("show-roster", args=[course.public_id]))
    page.get_by_label("Name or identifier").fill("stina")
    page.get_by_text("1 person").wait_for()
    assert page.get_by_role("row", name="Iris Instructor").count() == 0


def test_the_paper_is_switched_without_javascript(new_page, course, instructor):
    page = new_page(instructor, java_script_enabled=False, color_scheme="light")
    page.goto(reverse("show-course", args=[course.public_id]))
    light = paper_of(page)
    page.get_by_role("button", name="Dark").click()
    page.locator('html[data-scheme="dark"]').wait_for()
    assert page.url.endswith(reverse("show-course", args=[course.public_id]))
    assert paper_of(page) != light


def paper_of(page):
    return page.evaluate("getComputedStyle(document.body).backgroundColor")


def test_signing_in_and_out_by_keyboard(new_page, course, student):
    page = new_page(None)
    page.goto(reverse("show-course", args=[course.public_id]))
    page.get_by_label("Sign-in name").fill("Stina.Student")
    page.get_by_label("Password").fill("correct horse")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Organic Laboratory II").wait_for()
    page.get_by_role("button", name="Sign out").press("Enter")
    page.get_by_text("You are signed out.").wait_for()
