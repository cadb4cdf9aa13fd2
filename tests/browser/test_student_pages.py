"""A student's pages in a real browser: planning and the bench, with and without JavaScript."""

import time

import pytest
from django.urls import reverse

from workups.documents import library_text
from workups.models import Reading
from workups.selectors.bench import step_entries
from workups.selectors.plans import current_plan
from workups.services.exercises import assign_revision, publish_revision
from workups.services.works import start_work

TARGET = "hexyl_acetate"
PHONE = {"width": 360, "height": 740}


def url_of(name, work, *args):
    return reverse(name, args=[work.public_id, *args])


def begin_plan(page, work, verb):
    """Open an empty plan and add its first step."""
    page.goto(url_of("build-plan", work))
    page.get_by_role("button", name=verb, exact=True).click()
    page.locator("#form-s1").wait_for()


class Taps:
    """Counts what a finger does: a tap, a choice, a field typed into."""

    def __init__(self, page):
        self.page, self.steps, self.taps, self.highest = page, 0, 0, 0

    def add(self, verb):
        self._one(self.page.get_by_role("button", name=verb, exact=True).click)
        self.steps += 1
        self.page.locator(f"#form-s{self.steps}").wait_for()
        height = self.page.locator(f"#step-s{self.steps}").last.bounding_box()["height"]
        self.highest = max(self.highest, height)

    def choose(self, label, key):
        self._one(lambda: self.page.get_by_label(label, exact=True).select_option(key))

    def write(self, label, text):
        self._one(lambda: self.page.get_by_label(label).fill(text))

    def check(self, label):
        self._one(self.page.get_by_label(label, exact=True).check)

    def _one(self, act):
        self.taps += 1
        act()


@pytest.fixture
def ether_work(course, section, instructor, student, terms, enrolment_of):
    """The twelve-step exercise, not begun."""
    published = publish_revision(
        actor=instructor, course=course, key="plain-ether", title="Plain and simple",
        document=library_text("plain-ether"),
    )
    assigned = assign_revision(
        actor=instructor, revision=published, section=section, terms=terms
    )
    return start_work(assignment=assigned, enrolment=enrolment_of(student))


def test_twelve_steps_take_at_most_forty_taps_and_no_form_two_screens(
    new_page, ether_work, student
):
    """It was 67 taps, and 3300 px for one form, when this was first counted."""
    page = new_page(student, viewport=PHONE)
    page.goto(url_of("build-plan", ether_work))
    finger = Taps(page)
    finger.add("Cool")
    finger.add("Add")
    finger.choose("What", "water")
    finger.write("Volume, mL", "40")
    finger.add("Extract")
    finger.choose("With", "diethyl_ether")
    finger.write("Volume of each portion, mL", "20")
    finger.write("Portions", "2")
    finger.check("upper layer")
    finger.add("Wash")
    finger.choose("With", "water")
    finger.write("Volume of each portion, mL", "15")
    finger.write("Portions", "2")
    finger.add("Wash")
    finger.choose("With", "brine")
    finger.write("Portions", "1")
    finger.add("Dry")
    finger.choose("Drying agent", "calcium_chloride")
    finger.write("Leave for, min", "20")
    finger.add("Tare")
    finger.add("Filter")
    finger.check("decant")
    finger.choose("Rinse with", "diethyl_ether")
    finger.write("Volume of each rinse, mL", "4")
    finger.write("Rinses", "2")
    finger.add("Strip")
    finger.write("Final pressure, mbar", "20")
    finger.write("Hold after the solvent stops coming, min", "10")
    finger.add("Weigh")
    finger.add("Discard")
    finger.check("base")
    finger.add("Discard")
    finger._one(page.get_by_role("button", name="Keep this step").click)
    page.get_by_role("link", name="Hand the plan in").wait_for()
    print(f"taps {finger.taps}, highest form {finger.highest:.0f} px")  # noqa: T201
    steps = current_plan(ether_work).to_core().steps
    assert [s.verb for s in steps] == [
        "cool", "add", "extract", "wash", "wash", "dry", "tare", "filter", "strip", "weigh",
        "discard", "discard",
    ]
    assert (steps[7].flask, steps[7].into) == (steps[3].keep_in, "round-bottom flask")
    assert {s.flask for s in steps[10:]} == {steps[2].other_in, steps[3].other_in}
    assert finger.taps <= 40
    assert finger.highest <= 2 * PHONE["height"]


def fill_wash(page):
    page.get_by_label("With", exact=True).select_option(label="water")
    page.get_by_label("Volume of each portion, mL").fill("25")
    page.get_by_label("upper layer").check()
    page.get_by_label("Kept layer goes to").fill("organic layer")
    page.get_by_label("Other layer goes to").fill("washings")


@pytest.mark.parametrize("with_script", [True, False])
def test_a_plan_is_built_changed_and_undone(new_page, work, student, with_script):
    page = new_page(student, java_script_enabled=with_script, viewport=PHONE)
    page.goto(url_of("build-plan", work))
    page.get_by_role("button", name="Cool", exact=True).click()
    page.get_by_role("button", name="Keep this step").click()
    page.get_by_role("button", name="Keep this step").wait_for(state="detached")
    if with_script:
        page.locator("#fold-s1:focus").wait_for()
    page.get_by_role("button", name="Wash", exact=True).click()
    fill_wash(page)
    page.get_by_role("button", name="Keep this step").click()
    page.get_by_role("button", name="Keep this step").wait_for(state="detached")
    page.get_by_role("button", name="Up step 2").click()
    page.get_by_role("button", name="Undo: Moved step 2, Wash up").wait_for()
    page.get_by_role("button", name="Duplicate step 1").click()
    page.get_by_role("button", name="Undo: Duplicated step 1").wait_for()
    page.locator("#step-s1 summary").first.click()
    page.locator("#remove-s1").click()
    page.get_by_role("button", name="Undo: Removed step 3, Cool").click()
    page.get_by_text("Undid: Removed step 3, Cool").wait_for()
    assert [s["verb"] for s in current_plan(work).data["steps"]] == ["wash", "wash", "cool"]
    page.get_by_role("button", name="Undo: Duplicated step 1").click()
    page.get_by_role("button", name="Undo: Moved step 2, Wash up").click()
    page.get_by_text("Undid: Moved").wait_for()
    assert [s["verb"] for s in current_plan(work).data["steps"]] == ["cool", "wash"]


@pytest.mark.parametrize(("start", "over", "order"), [
    ("cool", "extract", ["dilute", "extract", "cool"]),
    ("extract", "cool", ["extract", "cool", "dilute"]),
])
def test_a_step_is_moved_by_dragging(new_page, planned_work, student, start, over, order):
    page = new_page(student)
    page.goto(url_of("build-plan", planned_work))
    page.locator(f"#step-{start} .step__handle").hover()
    page.mouse.down()
    box = page.locator(f"#step-{over}").bounding_box()
    y = box["y"] + (box["height"] - 2 if start == "cool" else 2)
    page.mouse.move(box["x"] + 100, y, steps=4)
    page.mouse.up()
    page.get_by_role("button", name="2 places").wait_for()
    steps = current_plan(planned_work).data["steps"]
    assert [s["id"] for s in steps[:3]] == order


def test_a_drag_given_up_moves_nothing(new_page, planned_work, student):
    page = new_page(student)
    page.goto(url_of("build-plan", planned_work))
    page.locator("#step-cool .step__handle").hover()
    page.mouse.down()
    page.mouse.move(400, 600, steps=4)
    page.locator(".step--dragged").wait_for()
    page.keyboard.press("Escape")
    page.mouse.up()
    page.locator(".step--dragged").wait_for(state="detached")
    assert current_plan(planned_work).version == 1


def test_a_sheet_half_typed_outlives_a_reload_and_enter_goes_on(new_page, bench_work, student):
    """Amounts of a step show when it is marked as changed; the second time begins empty."""
    page = new_page(student, viewport=PHONE)
    page.goto(url_of("type-sheet", bench_work))
    step = page.locator(".sheet-part", has=page.locator("[name='mark--wash-water']"))
    assert not step.get_by_label("Volume of each portion, mL").is_visible()
    step.get_by_label("changed").check()
    step.get_by_label("Volume of each portion, mL").fill("30")
    page.get_by_label("Every step that I mark nowhere").check()
    page.get_by_label("Tare, g").fill("45.30")
    page.get_by_label("Tare, g").press("Enter")
    assert page.evaluate("document.activeElement.labels[0].textContent") == "Balance at: tare"
    page.reload()
    assert page.get_by_label("Tare, g").input_value() == "45.30"
    assert step.get_by_label("Volume of each portion, mL").input_value() == "30"
    page.get_by_role("button", name="Keep the first time").click()
    page.get_by_text("Second time.").wait_for()
    assert page.get_by_label("Tare, g").input_value() == ""
    page.get_by_role("button", name="Begin again with the first time").click()
    page.get_by_text("First time.").wait_for()
    assert page.get_by_label("Tare, g").input_value() == ""


class Finger:
    """One finger on a touch screen, as Chromium's own protocol sends it."""

    def __init__(self, page):
        self.page, self.protocol = page, page.context.new_cdp_session(page)

    def _send(self, kind, *points):
        where = [{"x": x, "y": y} for x, y in points]
        self.protocol.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": where})

    def put_on(self, element):
        box = element.bounding_box()
        self.at = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        self._send("touchStart", self.at)

    def draw_to(self, y, moves=8):
        x, start = self.at
        for number in range(1, moves + 1):
            self._send("touchMove", (x, start + (y - start) * number / moves))
            self.page.wait_for_timeout(16)

    def lift(self):
        self._send("touchEnd")


def touched_plan(new_page, planned_work, student):
    page = new_page(student, viewport=PHONE, has_touch=True, is_mobile=True)
    page.goto(url_of("build-plan", planned_work))
    page.locator(".step__handle").first.wait_for()
    return page, Finger(page)


def test_a_finger_on_the_handle_moves_the_step(new_page, planned_work, student):
    page, finger = touched_plan(new_page, planned_work, student)
    finger.put_on(page.locator("#step-cool .step__handle"))
    over = page.locator("#step-dilute").bounding_box()
    finger.draw_to(over["y"] + over["height"] - 2)
    finger.lift()
    page.get_by_role("button", name="Undo: Moved").wait_for()
    steps = current_plan(planned_work).data["steps"]
    assert [s["id"] for s in steps[:3]] == ["dilute", "cool", "extract"]


def test_a_finger_beside_the_handle_scrolls_the_page(new_page, planned_work, student):
    page, finger = touched_plan(new_page, planned_work, student)
    finger.put_on(page.locator("#step-dilute .step__short"))
    finger.draw_to(finger.at[1] - 250)
    assert page.locator(".step--dragged").count() == 0
    finger.lift()
    page.wait_for_function("scrollY > 100")
    assert current_plan(planned_work).version == 1


def test_a_finger_that_rests_at_the_edge_moves_the_page_on(new_page, planned_work, student):
    page, finger = touched_plan(new_page, planned_work, student)
    handle = page.locator("#step-dilute .step__handle")
    handle.scroll_into_view_if_needed()
    finger.put_on(handle)
    finger.draw_to(PHONE["height"] - 10)
    reached = page.evaluate("scrollY")
    page.wait_for_function("from => scrollY > from + 200", arg=reached)
    page.keyboard.press("Escape")
    page.locator(".step--dragged").wait_for(state="detached")
    finger.lift()
    assert current_plan(planned_work).version == 1


def test_what_is_typed_is_saved_at_once_and_nothing_jumps(new_page, work, student):
    page = new_page(student)
    begin_plan(page, work, "Wash")
    assert page.evaluate("document.activeElement.name") == "flask"
    page.get_by_label("Volume of each portion, mL").fill("abc")
    page.keyboard.press("Tab")
    page.get_by_text("A number is expected here").wait_for()
    assert page.evaluate("document.activeElement.name") == "portions"
    page.get_by_label("Volume of each portion, mL").fill("25")
    page.keyboard.press("Tab")
    page.get_by_text("A number is expected here").wait_for(state="detached")
    assert page.locator("#form-s1 .field--wrong, #form-s1 [aria-invalid]").count() == 0
    page.reload()
    page.locator("#fold-s1").click()
    page.get_by_role("link", name="Fill in").click()
    assert page.get_by_label("Volume of each portion, mL").input_value() == "25"


def test_a_slow_network_makes_no_conflict_of_ones_own_changes(new_page, work, student):
    page = new_page(student, viewport=PHONE)
    begin_plan(page, work, "Wash")
    page.route("**/plan/", lambda route: (time.sleep(0.7), route.continue_()))
    fill_wash(page)
    page.get_by_role("button", name="Keep this step").click()
    page.get_by_role("button", name="Duplicate step 1").wait_for()
    assert current_plan(work).data["steps"][0]["other_in"] == "washings"


def test_going_on_at_once_leaves_nothing_behind(new_page, work, student):
    """The next verb and the self-check wait for the saving of the last field."""
    page = new_page(student, viewport=PHONE)
    begin_plan(page, work, "Cool")
    page.route("**/plan/", lambda route: (time.sleep(0.7), route.continue_()))
    page.get_by_label("To, °C").fill("7")
    page.get_by_role("button", name="Weigh", exact=True).click()
    page.locator("#form-s2").wait_for()
    assert "to 7" in page.locator("#line-s1").text_content()
    page.get_by_label("Readings").fill("3")
    page.locator("main nav .crumb a").click()
    page.wait_for_url(url_of("show-work", work))
    assert [s.get("to_C", s.get("readings")) for s in current_plan(work).data["steps"]] == [7, 3]


def test_the_same_step_in_two_tabs_is_asked_about(new_page, planned_work, student):
    one, two = new_page(student), new_page(student)
    for page in (one, two):
        page.goto(url_of("build-plan", planned_work) + "?step=cool")
    one.get_by_label("To, °C").fill("10")
    one.get_by_role("button", name="Keep this step").click()
    one.locator("#line-cool").get_by_text("to 10").wait_for()
    two.get_by_label("To, °C").fill("5")
    two.get_by_role("button", name="Keep this step").click()
    two.get_by_role("heading", name="The same step was changed in two places").wait_for()
    two.get_by_role("button", name="Go on with yours").click()
    two.get_by_text("Went back to draft").wait_for()
    assert current_plan(planned_work).data["steps"][0]["to_C"] == 5.0


def at_the_balance(page):
    """The list, one tap away, leads to the weighings."""
    page.get_by_text("All steps").click()
    page.get_by_role("link", name="Weighings, amounts, and the lock").click()


@pytest.mark.parametrize("with_script", [True, False])
def test_the_bench_is_recorded_by_taps_and_figures(new_page, bench_work, student, with_script):
    page = new_page(student, java_script_enabled=with_script, viewport=PHONE)
    page.goto(url_of("show-bench", bench_work))
    done, undo = "Done as planned, Cool", "Undo Cool, done"
    assert page.locator(".masthead").bounding_box()["height"] < 60
    page.get_by_role("button", name=done).click()
    page.get_by_text("16 steps to go").wait_for()
    page.get_by_role("button", name=undo).click()
    page.get_by_text("17 steps to go").wait_for()
    page.get_by_role("button", name=done).click()
    page.get_by_text("16 steps to go").wait_for()
    page.get_by_role("link", name="Next").click()
    page.get_by_role("heading", name="3. Extract").wait_for()
    assert "step=extract" in page.url
    page.get_by_role("link", name="Back").click()
    page.get_by_role("heading", name="2. Add").wait_for()
    at_the_balance(page)
    for kind, mass in (("tare", "45,30 g"), ("gross", "51.24")):
        page.get_by_label(f"{kind}:").check()
        page.get_by_label("Balance shows, g").fill(mass)
        page.get_by_role("button", name="Record this reading").click()
        page.locator(".readings").get_by_text(mass.replace(",", ".").split()[0]).first.wait_for()
    page.get_by_text("Mass by difference:").wait_for()
    assert "5.94" in page.locator(".by-difference").inner_text()
    assert {i: e.mark for i, e in step_entries(bench_work.bench_record).items()} == {"cool": "done"}
    assert Reading.objects.count() == 2


def test_a_reading_with_too_few_decimals_stays_in_its_field(new_page, bench_work, student):
    page = new_page(student, viewport=PHONE)
    page.goto(url_of("show-bench", bench_work) + "?step=rest")
    page.get_by_label("Balance shows, g").fill("45.3")
    page.get_by_role("button", name="Record this reading").click()
    page.get_by_text("write all of them").wait_for()
    assert page.get_by_label("Balance shows, g").input_value() == "45.3"


def test_the_reagent_table_answers_while_it_is_filled_in(new_page, work, student):
    page = new_page(student)
    page.goto(url_of("fill-reagents", work))
    page.get_by_label("Molar mass of 1-hexanol").fill("102.18")
    page.keyboard.press("Tab")
    page.get_by_text("1 of 7 answers right").wait_for()
    assert page.evaluate("document.activeElement.name") == "amount_mmol-1_hexanol"
