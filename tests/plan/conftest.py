"""A server of the page to plan in, within this process, and the page in a browser."""

import io
import secrets
from contextlib import redirect_stderr

import pytest
from plan_page import served

DESKTOP = {"viewport": {"width": 1440, "height": 900}}


@pytest.fixture(scope="module")
def session(tmp_path_factory):
    """One server for all stories: each opens a page of its own."""
    with served(tmp_path_factory.mktemp("plan") / "session") as session:
        yield session


@pytest.fixture
def planner(browser, session):
    """Opens the page; at the end, whatever it or the server complained of is a failure."""
    contexts, complaints, log = [], [], io.StringIO()

    def visit(**options):
        context = browser.new_context(**(DESKTOP | options))
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: complaints.append(f"console: {message.text}"))
        page.on("pageerror", lambda error: complaints.append(f"error: {error}"))
        page.on("request", lambda asked: complaints.append(asked.url) if is_outside(asked, session) else 0)
        session.guard.token = secrets.token_urlsafe(24)
        page.goto(session.address)
        return page

    with redirect_stderr(log):
        yield visit
        for context in contexts:
            context.close()
    assert complaints == []
    assert log.getvalue() == ""


def is_outside(request, session):
    return not request.url.startswith((f"http://{session.guard.host}/", "data:"))
