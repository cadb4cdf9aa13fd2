"""The bench, with a network, without one, and from paper.

What can be said at the bench is a list of kinds (``entries.KINDS``). A kind is one class
(``entry.EntryForm``): what it asks and within which bounds, what it is about, what it says then,
its words, its room on the printed sheet. The page of an entry, a device's queue, the typed sheet
and the station read it by that form and record it by one service (``services/entries.py``), which
stores it once (``client_token``), answers what became of it, and asks instead of writing where the
record says something that the sender had not seen (``seen``). A step's mark is taken back (``mark``
"open"), a reading is corrected by its own form or struck out. ``test_a_new_kind_of_entry.py`` adds
two kinds and watches them arrive everywhere.

One step at a time. The page holds every step and shows the one of the address (``?step=``,
``record``): what has ``data-shown-at`` is hidden elsewhere. Back, Next and the list are links;
``bench_steps.js`` follows them in the page, so that they work without a network. A mark leads to
the next step that has none.

Without a network. ``_entry_form.html`` says in attributes what an entry is and of which place
(``data-slot``). ``bench_page.js`` writes what such a form says into ``bench_store.js`` (IndexedDB)
before it is sent. When the server has it, it stays there as sent, with the number of rows that the
record had then, until the kept pages have as many: a page loaded without a network shows what this
device knows. What got no answer waits, and ``bench_sender.js`` sends it in the order of the store's
own counter, one after the other. An entry that is refused, in words or by a status of its own, is
set aside with its reason, to correct, drop or try again, and what comes after it goes on; only what
says nothing about the entry (no answer, 429, 502 to 504, signed out) stops the queue. The device
sends its own clock and what it adds to get ours; no clock decides about order.
``service_worker.js`` keeps the bench page and ``show-offline-bench``, which has every form on one
page, until somebody signs in or out. The network always comes first. Tests that cut the network put
``tests/browser/cable.py`` between browser and server.

From paper: double entry (``sheet_forms``, ``services/entries.py``) of the printed sheet. Every
typing is kept, the second is made without sight of the first, fields that differ are decided from
the paper, and only then the entries are made, with ``source`` "sheet". An added step is typed as it
stands on the paper; the bench page asks for it until it is recorded in full. Amounts come with the
mark "changed", what is seldom used stands behind words, and one tap marks every other step as done,
so that a sheet of 16 steps shows 60 of its 104 fields on a phone. What is typed outlives a reload
(``static/js/sheet.js``, in the tab, each of the two times apart).

What is recorded. Readings are never changed; a correction is a new one, and asks the questions that
the grading asks (``selectors/bench.py``). What is taken out of the product before the
gross reading is a reading of its own (``ReadingKind.PART``: the vial empty, the vial with the part,
where it went) and counts in the mass (``chemistry.yields.product_mass``). The newest flask counts:
tares that do not agree with the last are left out, as with gross readings. Two numbered flasks with
a tare and a gross each are added up, unless that is more than there can be.
"""
