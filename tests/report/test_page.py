"""The page: escaped, self-contained, well formed, the same bytes each time."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from spectra.report.figures.pictures import pictures
from spectra.report.page import as_html as composed
from spectra.spectrum import Fault
from spectra.verification.result import Verification
from tests import fakes
from tests.goldfiles import require_gold

DAY = datetime.date(2026, 1, 31)
VOID = {"meta", "br", "hr", "img", "input", "link"}
EVIL = "</title><script>alert('x')</script><img src=http://x.example/y onerror=z> & \" ' $a_{"


def as_html(verification: Verification, date: datetime.date) -> str:
    """The page with its figures."""
    return composed(verification, date, pictures(verification))


@pytest.fixture(scope="module")
def page() -> str:
    return as_html(fakes.verification(), DAY)


class Reader(HTMLParser):
    """Collect tags, attributes and text; complain about tags that do not match."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if self.open.pop() != tag:
            raise AssertionError(f"</{tag}> at {self.getpos()} closes another element")

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def parsed(text: str) -> Reader:
    reader = Reader()
    reader.feed(text)
    reader.close()
    assert reader.open == []
    return reader


def requests(text: str) -> list[str]:
    """Everything in a page that could make a browser ask for something."""
    found = []
    for tag, attributes in parsed(text).tags:
        for name, value in attributes.items():
            asks = name in ("src", "href", "xlink:href", "data", "action", "srcset", "poster", "style")
            if asks and re.search(r"(?<!#)\burl\((?!#)|^(?!#)\S*[:/]", value or "") and name != "style":
                found.append(f"{tag} {name}={value}")
        if tag in ("script", "link", "iframe", "object", "embed", "img", "base", "form"):
            found.append(tag)
    return found + re.findall(r"@import|url\((?!#)[^)]*\)", text)


def test_the_page_is_well_formed_and_asks_for_nothing(page: str) -> None:
    assert len(parsed(page).tags) > 500
    assert requests(page) == []
    assert "default-src 'none'" in page


@pytest.mark.parametrize("planted", ['<img src="http://x.example/a.png">', "<style>@import 'a.css';</style>"])
def test_the_guard_sees_a_planted_request(planted: str) -> None:
    assert requests(f"<p>{planted}</p>")


def test_identifiers_are_unique_and_links_lead_somewhere(page: str) -> None:
    tags = parsed(page).tags
    # clips and markers of drawings carry a hash of their content: equal ones are equal
    named = [
        attributes["id"]
        for tag, attributes in tags
        if tag not in ("path", "clippath") and attributes.get("id")
    ]
    assert len(named) == len(set(named))
    targets = {(a["href"] or "")[1:] for tag, a in tags if tag == "a"}
    assert targets
    assert targets <= set(named)


def test_untrusted_text_is_escaped_everywhere() -> None:
    sample = replace(fakes.good_sample(), name=EVIL)
    result = fakes.verification(sample, title=EVIL)
    fault = Fault(EVIL, "warning", EVIL, EVIL, EVIL)
    first = replace(
        result.inputs[0],
        path=f"/data/gauze/{EVIL}",
        part=EVIL,
        specimen=EVIL,
        assumed=(EVIL,),
        faults=(fault,),
    )
    versions = {EVIL: EVIL}
    text = as_html(replace(result, inputs=(first, *result.inputs[1:]), versions=versions), DAY)
    reader = parsed(text)
    assert not [tag for tag, _ in reader.tags if tag in ("script", "img")]
    assert requests(text) == []
    assert sum(EVIL[:20] in part for part in reader.text) >= 10


def test_verdicts_come_first_and_limits_right_after(page: str) -> None:
    names = ("result", "cautions", "conditions", "statement", "sample-1", "sample-4", "rule", "inputs")
    order = [page.index(f'id="{name}"') for name in names]
    assert order == sorted(order)
    first = page[: page.index('id="conditions"')]
    for needed in ("present", "not shown", "cannot tell", "changed", "2.10 % (1.52 to 2.68 %)", "31.4 nm"):
        assert needed in first
    assert "toxicological" in first
    assert "coverage of every point" in first


def test_the_contents_lead_to_every_part(page: str) -> None:
    tags = parsed(page).tags
    sections = {attributes["id"] for tag, attributes in tags if tag == "section"}
    links = {(attributes["href"] or "")[1:] for tag, attributes in tags if tag == "a"}
    assert sections <= links


def test_tables_have_captions_and_heads_of_rows(page: str) -> None:
    tables = re.findall(r"<table>.*?</table>", page, flags=re.DOTALL)
    assert len(tables) >= 20
    for table in tables:
        assert table.count('scope="row"') == table.count("<tr>") - 1
        assert 'scope="col"' in table
    assert (
        sum("<caption>" in table for table in tables) >= len(tables) - 1
    )  # the conditions follow their head


def test_figures_are_read_out_with_their_finding(page: str) -> None:
    labels = [a["aria-label"] or "" for tag, a in parsed(page).tags if tag == "svg"]
    assert len(labels) == len(set(labels)) >= 7
    assert "aqueous: gelatin present, amount 2.10 % (1.52 to 2.68 %); chemistry unchanged." in labels[0]


def test_a_dark_sheet_and_paper_are_provided_for(page: str) -> None:
    assert '<meta name="color-scheme" content="light dark">' in page
    assert "@media (prefers-color-scheme: dark)" in page
    assert "size: A4" in page
    for name in set(re.findall(r"var\((--[a-z-]+)\)", page)):
        assert page.count(f"{name}:") >= 3, name  # light, dark and print


def test_the_page_is_light_to_send(page: str) -> None:
    assert len(page) < 600_000


def test_everything_an_auditor_asks_for_is_there(page: str) -> None:
    result = fakes.verification()
    text = " ".join(parsed(page).text)
    for item in result.inputs:
        assert item.sha256 in text
    assert result.study.sha256 in text
    for needed in (
        "numpy",
        "2.4.6",
        "chance of calling a bare sample coated",
        "Purge and measure again.",
        "DELTAX",
    ):
        assert needed in text
    assert "2026-01-31" in text


def test_signs_are_set(page: str) -> None:
    assert "cm-1" not in page
    assert "+/-" not in page
    assert "−13.8 cm⁻¹ (−16.1 to −11.5 cm⁻¹)" in page


def test_same_result_same_bytes(page: str) -> None:
    assert as_html(fakes.verification(), DAY) == page


def test_gold(page: str) -> None:
    without = re.sub(r"<svg.*?</svg>", "<!-- drawing -->", page, flags=re.DOTALL)
    head, rest = without.split("<summary>Every setting,")  # grows with every stage of the chain
    require_gold("report.html", head + rest[rest.index("</details>") :])
