"""A running server whose database goes away or whose disk fills up says so, and recovers."""

from uuid import UUID, uuid4, uuid5

from tests.crash.writer import WEIGHINGS, form_of, weighing

SAID = "What you sent was not saved"


def test_the_page_says_so_and_the_same_form_is_stored_once_afterwards(running):
    """SQLite: no file may grow. PostgreSQL: the database server is killed."""
    browser, path = running.browser("bench"), f"/work/{running.work('bench')}/{WEIGHINGS}"
    token = str(uuid4())
    form = form_of(weighing("45.30", token))
    take_away(running)
    status, text = browser.ask("POST", path, form)
    assert (status, SAID in text) == (503, True)
    give_back(running)
    assert running.read_back()["readings"] == []
    assert browser.ask("POST", path, form)[0] == 200
    assert browser.ask("POST", path, form)[0] == 200
    entry = str(uuid5(UUID(token), "0"))
    assert running.read_back()["readings"] == [[entry, "45.300000"]]


def take_away(running):
    if running.cluster:
        running.cluster.kill()
    else:
        running.server.limit_files(1)


def give_back(running):
    if running.cluster:
        running.cluster.start()
    else:
        running.server.limit_files(2**62)
