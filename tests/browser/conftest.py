"""A real browser for the tests in this folder; they are skipped where there is none."""

import shutil
from importlib.metadata import files

import pytest
from page_in_browser import DESKTOP, written
from playwright.sync_api import Error, sync_playwright
from sample_harvest import winding_report

from routesolar.report.page import page_html

_QUIET = (
    "--no-sandbox --disable-gpu --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --disable-quic"
).split()


@pytest.fixture(scope="session")
def browser():
    """Chromium from the system, or the one that playwright brought."""
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as playwright:
        try:
            opened = playwright.chromium.launch(executable_path=program, args=_QUIET)
        except Error as error:
            pytest.skip(f"no Chromium: {error.message.splitlines()[0]}")
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def axe():
    """The accessibility checker's script."""
    bundled = next(path for path in files("axe-playwright-python") or () if path.name == "axe.min.js")
    return bundled.read_text(encoding="utf-8")


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
