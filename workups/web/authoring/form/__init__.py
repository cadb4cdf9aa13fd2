"""The author form. Form and text are two ways into one document; there is no second model.

A page of the form (``parts`` lists them) is made from ``documents/shapes.py``: every field is an
``Asked`` with its path in the plain data. What is typed goes into the document whatever it is, a
word where a number is expected too, and ``load_exercise`` says what is wrong; ``progress`` puts its
problems beside the fields by path. Label and help are those that the field declares, and what no
part names has its place where a ``*`` is: a new field of a dataclass needs nothing here.

Sending a page changes what differs from what the page shows, and ``documents/rewrite.py`` changes
only those values in the text: comments, order and spelling of the rest stay. A test sends every
library exercise and generated ones through all parts unchanged and gets the same text back, to the
letter.

A page carries the state of its own part (``state_of``), a route the version of the draft; somebody
who changed another part, or another step, is no conflict. Where the same part was changed meanwhile
nothing is saved, and the page shows what was typed. Every save keeps the state before it
(``DraftState``), which Undo and the history go back to. Requests of one part go one after the other
(``hx-sync``); a link or button that leaves the page waits for the saving before it, and what is
typed and not sent yet when the page goes is sent then (``static/js/saving.js``, for the plan
builder too).

A saved field asks the database six times and reads one text, the new one, so that what is stored
is what a reader will find (``tests/web/authoring/form/test_one_field.py``); a process that has not
seen the draft yet reads the old one too. Saving locks nothing: the version decides, and where it
has moved on the change is made again on the newer text (``services/drafts.py``).

The panel (``live``) carries out what can be carried out (``documents/lenient.py``): mistakes in
texts, rubric or choices are left out, the model plan is followed up to the first step that is not
right, and before there is a plan it shows the starting mixture. ``explanation/plausible.py``
holds the questions about amounts that can be written and are hardly meant.
"""
