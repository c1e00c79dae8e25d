"""A drive on paper: read from the PDF that the browser prints."""

import re
import shutil
import subprocess
from html import unescape

import pytest
from page_in_browser import painted, pixels, written
from sample_harvest import full_report

from routesolar.report.colours import POWER
from routesolar.report.page import page_html
from routesolar.report.text import CAUTIONS

pytestmark = pytest.mark.browser
# Words' boxes are as high as their font from its highest to its lowest letter: 1.1 times its size at least.
HIGHEST_TO_LOWEST = 1.1


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    return written(page_html(full_report(600)), tmp_path_factory)


def printed(page, paper, folder):
    """The pages of the PDF, each as its text and the heights of its words in points."""
    path = folder / "sheet.pdf"
    page.pdf(path=path, format=paper, print_background=True)
    read = [shutil.which("pdftotext"), "-bbox", str(path), "-"]
    told = subprocess.run(read, capture_output=True, text=True, check=True).stdout
    word = re.compile(r'yMin="([\d.]+)".*?yMax="([\d.]+)">(.*?)</word>')
    return [
        (unescape(" ".join(text for *_, text in found)), [float(low) - float(top) for top, low, _ in found])
        for found in (word.findall(sheet) for sheet in told.split("<page ")[1:])
    ]


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext (poppler-utils) is not here")
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_drive_is_one_sheet_and_a_page_of_bars(opened, address, paper, tmp_path):
    sheets = printed(opened(address), paper, tmp_path)
    assert len(sheets) == 2
    first, second = (words for words, _ in sheets)
    report = full_report(600)
    for leg in report.harvest.legs:
        assert leg.name in first
        assert f" {leg.energy_wh:.0f} " in first
    for said in (
        "What was assumed",
        "sun\u2019s height",
        "Expected watts",
        "Start",
        "Finish",
        *report.rests_on.split(),
    ):
        assert said in first
    for caution in CAUTIONS:
        assert caution.split(":")[0] in first
    assert "Wh in each hour" in second
    assert min(height for _, heights in sheets for height in heights) >= 7 * HIGHEST_TO_LOWEST


def test_without_a_script_the_same_chart_is_on_the_page(opened, address):
    page = opened(address, java_script_enabled=False)
    chart = page.locator(".still-chart")
    assert chart.is_visible()
    assert painted(pixels(page, ".still-chart"), POWER.colours(6)[-1]) > 100
    running = opened(address)
    assert running.locator(".still-chart").is_hidden()
