"""The bench, with a network, without one, and from paper.

Without a network. Every form of the bench has ``data-entry`` (its kind), ``data-about`` (step, verb
or reading), ``data-words`` and ``data-place``. ``bench_page.js`` writes what such a form says into
``bench_store.js`` (IndexedDB) before it is sent and removes it when the server has answered; what
got no answer waits, and ``bench_sender.js`` sends it in the order of the store's own counter, one
after the other. The server reads it by the same forms (``replay``) and stores it once
(``client_token``). It asks instead of writing where the record says something that the sender had
not seen (``services/replay.py``). An entry that is refused, in words or by a status of its own, is
set aside with its reason, to correct, drop or try again, and what comes after it goes on; only what
says nothing about the entry (no answer, 429, 502 to 504, signed out) stops the queue. The device
sends its own clock and what it adds to get ours; no clock decides about order.
``service_worker.js`` keeps the bench page and ``show-offline-bench``, which has every form on one
page, until somebody signs in or out. The network always comes first. A new form of the bench needs
the four attributes, a function in ``KINDS_OF_ENTRY`` and a place on that page;
``tests/web/bench/test_replay_entry.py`` says so. Tests that cut the network put
``tests/browser/cable.py`` between browser and server.

From paper. The printed sheet is typed in twice (``sheet_forms``, ``services/typings.py``): every
typing is kept, the second is made without sight of the first, fields that differ are decided from
the paper, and only then the entries are made, with ``source`` "sheet". An added step is typed as it
stands on the paper; the bench page asks for it until it is recorded in full. Amounts come with the
mark "changed", what is seldom used stands behind words, and one tap marks every other step as done,
so that a sheet of 16 steps shows 60 of its 104 fields on a phone. What is typed outlives a reload
(``static/js/sheet.js``, in the tab, each of the two times apart).

What is recorded. Readings are never changed; a correction is a new one, and asks the questions that
the grading asks (``selectors/reading_questions.py``). What is taken out of the product before the
gross reading is a reading of its own (``ReadingKind.PART``: the vial empty, the vial with the part,
where it went) and counts in the mass (``chemistry.yields.product_mass``). The newest flask counts:
tares that do not agree with the last are left out, as with gross readings. Two numbered flasks with
a tare and a gross each are added up, unless that is more than there can be.
"""
