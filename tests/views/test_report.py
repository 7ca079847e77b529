"""The report and the keying sheet: what stands on them, in which order, in which units, and on one sheet."""

from __future__ import annotations

import dataclasses
import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import pytest

from sensorcal.book.facts import Facts, Remark
from sensorcal.calibration.claims import claim_at
from sensorcal.setup import UnitsOut
from sensorcal.views.report import report_html, table_page_html
from tests.book import example
from tests.views.drawn import ROWS_C, table_view

AMERICAN = UnitsOut(temperature="degF", resistance="kohm")
BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


class Text(HTMLParser):
    """Collect the text of a page, and check that what is opened is closed."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.open: list[str] = []
        self.skip = 0
        self.feed(page)
        assert not self.open, self.open

    def handle_starttag(self, tag: str, attrs: object) -> None:  # noqa: ARG002 - the parser gives both
        """Remember what is open."""
        if tag not in {"meta", "br", "link"}:
            self.open.append(tag)
        self.skip += tag in {"style", "svg"}

    def handle_endtag(self, tag: str) -> None:
        """Close the innermost."""
        assert self.open.pop() == tag
        self.skip -= tag in {"style", "svg"}

    def handle_data(self, data: str) -> None:
        """Keep what is read."""
        if not self.skip:
            self.words.append(data)

    def __str__(self) -> str:
        return " ".join(" ".join(self.words).replace("\u00a0", " ").split())


def page(**changes: object) -> str:
    """Write the report of the example."""
    cal = example.calibration()
    asked = {"calibration": cal, "table": table_view(cal), "facts": example.facts(), "units": None} | changes
    return report_html(**asked)


def test_redline_and_rows_stand_before_everything_else() -> None:
    """If it failed, a mechanic would have to look for what to key in behind statistics."""
    text = str(Text(page()))
    order = [
        "At the 120 °C redline: 99.0 Ω; 120.0 °C ± 0.6 (19 times in 20), extrapolated: claim ± 1.5 °C",
        "What to key in",
        "In plain words",
        "The engine maker's manual, local rules and a licensed mechanic decide",
        "The points",
        "What these readings cannot show",
        "Questions and blunders",
        "Corrections made",
        "Where it comes from",
        "Show the arithmetic",
        "Signed",
    ]
    places = [text.index(one) for one in order]
    assert places == sorted(places)
    assert "own workshop record, not an accredited certificate" in text
    for word in ("airworthy", "safe to fly", "covariance"):
        assert word not in text[: places[-2]].lower()


def test_every_row_of_the_table_is_on_both_pages() -> None:
    """If it failed, a row would be missing in the monitor."""
    cal = example.calibration()
    table = table_view(cal)
    for html in (page(), table_page_html(table, example.facts(), sensor="P1")):
        found = re.findall(r"<tr[^>]*><td[^>]*>(\d+)</td><td>([^<]+)</td><td class=\"v\">([^<]+)<", html)
        assert [(int(n), a, b.replace("−", "-")) for n, a, b in found] == [
            (i, row.signal, row.value) for i, row in enumerate(table.rows, start=1)
        ]
        stars = html.count('<span class="star">*</span>')
        assert stars == sum(row.extrapolated for row in table.rows)
    assert html.count('class="box"') == len(table.rows)


def test_remarks_show_size_and_answer() -> None:
    """If it failed, the record would not show what was questioned, and why it stands."""
    text = str(Text(page()))
    assert "Asked: the steam row says 100 °C, but water boils at 97.73 °C here" in text
    assert "Kept out, because the repeat at 18:52 read 1837 ohm." in text
    assert "row 8 lies 7.3 °C from the curve through the others [+13.14 °F]" in str(Text(page(units=AMERICAN)))


def test_an_open_blunder_stops_the_reader_at_the_top() -> None:
    """If it failed, somebody would key in a table made from a wrong reading."""
    remark = Remark(kind="blunder", what="wrong-reading:P1", text="bath-25 (row 26): 1384 ohm, likely 1834", size_c=7.3)
    facts = dataclasses.replace(example.facts(), remarks=(remark,))
    text = str(Text(page(facts=facts)))
    stop = text.index("A reading is questioned: bath-25 (row 26): 1384 ohm, likely 1834. Key nothing in")
    assert stop < text.index("redline")
    assert "Still open." in text
    kept = dataclasses.replace(facts, remarks=(dataclasses.replace(remark, answer="kept, because read twice"),))
    assert "Key nothing in" not in str(Text(page(facts=kept)))


def test_units_of_the_users_choice_everywhere() -> None:
    """If it failed, °C would stand beside °F on one page without saying so."""
    facts = dataclasses.replace(example.facts(), remarks=(), undetectable=(), assumed=(), traceability="")
    text = str(Text(page(table=None, facts=facts, units=AMERICAN)))
    assert "At the 248 °F redline: 0.0990 kΩ; 248.0 °F ± 1.0 (19 times in 20), extrapolated: claim ± 2.7 °F" in text
    before = text[: text.index("1/T = A + B")]
    assert "°C" not in before
    assert " Ω" not in before
    assert "from 32.0 °F to 207.9 °F" in before


def test_arithmetic_repeats_the_calibration() -> None:
    """If it failed, A, B and C on paper would not be those of the curve."""
    cal = example.calibration()
    html = page()
    folded = html[html.index("<details>") : html.index("</details>")]
    for value in cal.curve.abc:
        assert f"{value:.9e}".replace("-", "−", 1 if value < 0 else 0) in folded
    for word in ("Chi-squared 0.41 on 5 degrees", "reference:T1", "k = 1.960", "Shape prior", "Assumed, not measured"):
        assert word in folded
    assert "<details>" in html
    assert "<details open" not in html
    assert "details::details-content" in html


def test_without_prior_without_redline_and_with_beta() -> None:
    """If it failed, a plain two-point curve would have no page."""
    cal = example.calibration(model="beta", prior=False)
    text = str(Text(report_html(cal)))
    assert "Nothing was assumed of the curve's shape beforehand." in text
    assert "redline" not in text
    assert "Not worked out for this record." in text
    assert "Record without number" in text


def test_notes_of_the_fit_reach_the_page() -> None:
    """If it failed, 'nothing was checked' or 'prior and data disagree' would be known to the computer only."""
    cal = dataclasses.replace(example.calibration(), notes=("3 points and no prior: nothing was checked",))
    assert "3 points and no prior: nothing was checked." in str(Text(page(calibration=cal)))


def test_texts_of_the_user_cannot_break_the_page() -> None:
    """If it failed, a '<' in a note would hide the rest of the page, or run as a script."""
    facts = dataclasses.replace(example.facts(), role="<script>alert(1)</script>", scenario='a "b" & <c')
    html = page(facts=facts)
    assert "<script" not in html
    assert "&lt;script&gt;" in html
    Text(html)


def test_pages_fetch_nothing_and_run_nothing() -> None:
    """If it failed, a page opened in a hangar without internet would be incomplete."""
    cal = example.calibration()
    for html in (page(), table_page_html(table_view(cal), example.facts())):
        assert not re.search(r"<(?:script|link|img|iframe|object|embed)\b|@import|\son\w+=", html)
        assert not re.search(r'(?:href|src)="(?!#)', html)
        assert re.findall(r"https?://[^\"]+", html) in ([], ["http://www.w3.org/2000/svg"] * html.count("<svg"))


def test_same_inputs_same_page() -> None:
    """If it failed, a report would differ from the last one although nothing in it had changed."""
    assert page() == page()
    cal = example.calibration()
    sheets = [table_page_html(table_view(cal), example.facts(), sensor="P1") for _ in range(2)]
    assert sheets[0] == sheets[1]


def test_keying_sheet_says_how_the_monitor_reads_the_rows() -> None:
    """If it failed, a table made for ohms could be keyed into an input that reads volts."""
    cal = example.calibration()
    claim = claim_at(cal, 120.0)
    text = str(Text(table_page_html(table_view(cal), example.facts(), sensor="P1", claim=claim)))
    assert "Input: resistance in Ω; shown in °C; 16 rows" in text
    assert "a straight line between rows; past the ends the monitor holds the last value" in text
    assert "At the 120 °C redline: 99.0 Ω" in text
    assert "read every row back" in text
    assert "covariance" not in text.lower()


def printed_pages(html: str, folder: Path, paper: str) -> int:
    """Print a page as a browser does, and count the sheets."""
    source, target = folder / f"{paper}.html", folder / f"{paper}.pdf"
    source.write_text(html.replace("size: auto", f"size: {paper}"), encoding="utf-8")
    flags = ["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
    flags += ["--disable-component-update", "--disable-sync", "--no-pdf-header-footer"]
    subprocess.run(
        [BROWSER, *flags, f"--user-data-dir={folder / 'profile'}", f"--print-to-pdf={target}", source.as_uri()],
        check=True,
        capture_output=True,
        timeout=120,
    )
    return len(re.findall(rb"/Type\s*/Page\b", target.read_bytes()))


@pytest.mark.skipif(BROWSER is None, reason="no Chromium here to print with")
@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_report_and_sheet_print_on_one_page(tmp_path: Path, paper: str) -> None:
    """If it failed, half of the record would be lost in a drawer."""
    cal = example.calibration()
    many = tuple(-20.0 + 170.0 * i / 29 for i in range(30))
    crowded = dataclasses.replace(
        example.facts(), remarks=example.facts().remarks * 3, corrections=example.facts().corrections * 2
    )
    pages = {
        "report": page(),
        "plain": page(table=None, units=AMERICAN),
        "crowded": page(table=table_view(cal, many), facts=crowded),
        "bare": report_html(cal, None, Facts()),
        "sheet": table_page_html(table_view(cal, ROWS_C), example.facts(), claim=claim_at(cal, 120.0)),
        "long sheet": table_page_html(table_view(cal, many), example.facts(), claim=claim_at(cal, 120.0)),
    }
    if paper == "A4":  # Letter is the shorter sheet, A4 the narrower: the two full pages are tried on both
        pages = {name: pages[name] for name in ("report", "crowded")}
    for name, html in pages.items():
        assert printed_pages(html, tmp_path, paper) == 1, name


@pytest.mark.skipif(BROWSER is None or shutil.which("pdftotext") is None, reason="no Chromium and pdftotext here")
def test_arithmetic_is_open_on_paper(tmp_path: Path) -> None:
    """If it failed, the printed record would end with a fold that nobody can open."""
    printed_pages(page(), tmp_path, "A4")
    done = subprocess.run(["pdftotext", "-layout", tmp_path / "A4.pdf", "-"], capture_output=True, check=True)
    text = done.stdout.decode("utf-8")
    assert "Chi-squared 0.41" in text
    assert "Signed" in text
