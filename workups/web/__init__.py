"""Pages: forms, views and addresses by what people do. Thin: services write, selectors read.

A page of a course has its view in the folder of its topic, its URL name, template and test under
one ``verb_noun`` (``pages``). Every object is fetched through ``access``: it answers 404 to an
outsider and 403 to a wrong role; ``to_change=True`` where an archived course must refuse. The
returned ``access`` goes to the template, whose header then shows the course. A page for everyday
use gets a line in ``navigation``. Every page needs sign-in unless it says ``@login_not_required``;
``tests/labcourse/test_headers.py`` lists those; ``tests/web/access_table.py`` has who sees what.

A live part is the same ``_fragment.html`` that the page includes: ``href`` and ``action`` stand
beside ``hx-*``, and the request is annotated as ``requests.HtmxRequest``. A form field is drawn by
``{{ form.x.as_field_group }}`` with label, help, error and control tied together
(``templates/_field.html``), and ``_form_errors.html`` goes on top; bounds of what is typed come
from its column (``fields``). ``step_forms`` has one form for every kind of step, made
from the step's own fields. A form over stored values that others may change is an
``OptimisticLockForm``: it carries a seal of what was shown.

No ``style=""`` and no ``<style>``: the content security policy refuses both. Use a class of
``static/css/labcourse.css``, or SVG attributes for what varies.
"""
