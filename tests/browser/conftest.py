"""Written pages for the tests in this folder, opened in a real browser."""

import pytest
from page_in_browser import DESKTOP, written
from sample_harvest import winding_report

from routesolar.report.page import page_html


@pytest.fixture(scope="session")
def report():
    return winding_report(600)


@pytest.fixture(scope="session")
def address(report, tmp_path_factory):
    return written(page_html(report), tmp_path_factory)


@pytest.fixture
def opened(browser):
    """Opens an address; at the end, whatever it complained of or asked for is a failure."""
    contexts, complaints = [], []

    def visit(address, **options):
        context = browser.new_context(**(DESKTOP | options))
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: complaints.append(f"console: {message.text}"))
        page.on("pageerror", lambda error: complaints.append(f"error: {error}"))
        page.on("dialog", lambda dialog: complaints.append(f"dialog: {dialog.message}"))
        page.on(
            "request", lambda request: complaints.append(request.url) if is_outside(request, address) else 0
        )
        page.goto(address)
        return page

    yield visit
    for context in contexts:
        context.close()
    assert complaints == []


def is_outside(request, address):
    return request.url != address.partition("#")[0] and not request.url.startswith("data:")
