"""What the tests of the page to plan in share: a server within this process, and what one does on the page."""

import threading
from contextlib import contextmanager
from pathlib import Path

from page_in_browser import wait_until
from terminal import ROOT

from routesolar.plan.folder import Folder
from routesolar.plan.serving import Session

DEMO = ROOT / "demo_routes"
_DONE = """(() => {
  const { dataset, classList } = document.querySelector('.answered');
  const isTold = dataset.whole === 'true' || classList.contains('outdated');
  return document.querySelector('.seen').dataset.asking === 'no' && isTold;
})()"""


@contextmanager
def served(folder: Path, **options):
    """A session that runs in a thread of its own."""
    session, up = Session(Folder(folder), **options), threading.Event()
    thread = threading.Thread(target=session.run, args=(up.set,), daemon=True)
    thread.start()
    assert up.wait(60)
    yield session
    session.end()
    thread.join(60)
    assert not thread.is_alive()


def dropped(page, *names):
    """Give the page files of the demo and wait for its answer."""
    page.evaluate("document.querySelector('.answered').dataset.whole = 'false'")
    page.set_input_files(".drop input", [DEMO / name for name in names])
    settled(page)


def settled(page):
    """Wait until the page has been answered whole, and asks no more."""
    wait_until(page, "!document.querySelector('.answered').hidden", 120)
    page.wait_for_timeout(400)
    wait_until(page, _DONE, 120)


def energy_wh(page):
    return float(page.locator(".answered").get_attribute("data-energy"))
