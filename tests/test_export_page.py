"""The HTML page in a real browser: printed, every page of a draft says so; axe finds nothing against it."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from export_cases import STANDING, lexicon, pdf_pages, record, seen, signed

from dictate.export import make

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
AXE = Path(__file__).parent / "third_party" / "axe.min.js"
pytestmark = pytest.mark.skipif(BROWSER is None, reason="chromium is not installed")


def browse(page: Path, *options: str) -> str:
    """What the browser prints of a page with these options."""
    assert BROWSER is not None
    usual = ["--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={page.parent / 'browser'}"]
    command = [BROWSER, *usual, *options, page.as_uri()]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=True).stdout


def test_every_printed_page_of_a_draft_says_draft(tmp_path: Path) -> None:
    """Printed from a browser, each page carries DRAFT, the patient and the record."""
    places = [{"location": f"place {n}"} for n in range(120)]
    many = tuple(seen("skin", n, status="abnormal", finding="mass", qualifiers=q) for n, q in enumerate(places))
    page, printed = tmp_path / "page.html", tmp_path / "page.pdf"
    page.write_bytes(make("html", record(many), lexicon(), STANDING))
    browse(page, "--no-pdf-header-footer", f"--print-to-pdf={printed}")
    pages = pdf_pages(printed.read_bytes())
    assert len(pages) > 2
    for text in pages:
        assert "DRAFT" in text
        assert "no. S-1042" in text
        assert "Record 0123456789abcdef" in text


@pytest.mark.parametrize("kind", ["html", "owner-html", "anaesthesia-html"])
@pytest.mark.parametrize("state", ["draft", "signed"])
def test_axe_finds_nothing(kind: str, state: str, tmp_path: Path) -> None:
    """axe-core finds no fault in any page (WCAG rules and its own good practice)."""
    html = make(kind, record() if state == "draft" else signed(), lexicon(), STANDING).decode()
    script = AXE.read_text(encoding="utf-8").replace("</script>", "<\\/script>")
    told = "axe.run().then(r => {document.title = 'axe:' + JSON.stringify(r.violations.map(v => v.id))})"
    html = re.sub("<meta http-equiv[^>]*>", "", html)  # the page's own policy would forbid the script of the test
    page = tmp_path / "page.html"
    page.write_text(
        html.replace("</body>", f"<script>{script}</script><script>{told}</script></body>"), encoding="utf-8"
    )
    found = re.search("<title>axe:(.*?)</title>", browse(page, "--virtual-time-budget=20000", "--dump-dom"))
    assert found is not None
    assert json.loads(found[1]) == []
