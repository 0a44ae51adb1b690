"""What a person does before they read on: press, and wait for the page it leads to."""

from __future__ import annotations


def press(locator):
    """Press what leads to another page, and wait until that page is there, whole.

    A click alone is over when the answer begins: what is read then may be missing
    from a page that is half there, without its style, and its script not yet at work.
    """
    with locator.page.expect_navigation():
        locator.click()


def before_the_script(page, deed):
    """Do something on every page to come before the script of the bench is there."""

    def late(route):
        deed()
        route.continue_()

    page.route("**/bench.js", late)
