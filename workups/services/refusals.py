"""What every refusal of a service is: a page that did not expect it answers 409 with its words."""


class Refused(Exception):
    """A service stored nothing, because of a rule or because something came in between.

    The first sentence of a refusal's docstring is what a reader is told where no page has better
    words.
    """
