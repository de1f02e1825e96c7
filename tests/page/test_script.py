"""The page's own script and templates, read as text: typed, without anything that its policy would forbid."""

import re
from pathlib import Path

import pytest

import spectra.page

HOME = Path(spectra.page.__file__).parent
SCRIPTS = sorted((HOME / "static").glob("*.js"))
TEMPLATES = sorted((HOME / "templates").glob("*.html"))

# Against the Content Security Policy (W3C) of the page, or against its own rule: no library is copied in.
FORBIDDEN = {
    "code from text": r"\beval\(|new Function|setTimeout\(['\"]|javascript:",
    "markup from text": r"(?<!holder)\.(inner|outer)HTML\s*=|insertAdjacentHTML|document\.write",
    "another machine": r"https?://|\bimportScripts\b",
    "a variable without a scope": r"\bvar\s",
    "loose equality": r"[^=!]==[^=]|!=[^=]",
}

FUNCTION = re.compile(r"^(?:export )?(?:async )?function (\w+)", re.MULTILINE)


def faults(text):
    """Names of the rules that a script breaks."""
    code = re.sub(r"/\*.*?\*/|(?<!:)//[^\n]*", "", text, flags=re.DOTALL)
    return [name for name, pattern in FORBIDDEN.items() if re.search(pattern, code)]


def untyped(text):
    """Functions without a comment of types before them."""
    return [
        found[1] for found in FUNCTION.finditer(text) if not text[: found.start()].rstrip().endswith("*/")
    ]


def test_there_is_a_script():
    assert len(SCRIPTS) == 4
    assert sum(len(FUNCTION.findall(path.read_text(encoding="utf-8"))) for path in SCRIPTS) > 30


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_a_script_is_typed_and_keeps_the_rules(path):
    text = path.read_text(encoding="utf-8")
    assert text.startswith("// @ts-check\n")
    assert faults(text) == []
    assert untyped(text) == []
    assert max(map(len, text.splitlines())) <= 180


@pytest.mark.parametrize(
    "text",
    ["eval('1')", "x.innerHTML = words", "fetch('https://example.org')", "var a = 1", "if (a == b) {}"],
)
def test_a_planted_fault_is_found(text):
    assert len(faults(text)) == 1


def test_a_planted_function_without_types_is_found():
    assert untyped("const a = 1;\nfunction bare() {}\n") == ["bare"]


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_a_template_holds_no_script_and_no_foreign_address(path):
    text = path.read_text(encoding="utf-8")
    assert re.search(r"\son\w+=", text) is None
    assert re.search(r"<script(?! type=\"module\" src=\"/static/)", text) is None
    assert re.search(r"https?://", text) is None
    assert "style=" not in text


def test_only_finished_parts_are_put_in_unescaped():
    unescaped = {
        path.name: re.findall(r"{{([^}]*)\|\s*safe", path.read_text(encoding="utf-8")) for path in TEMPLATES
    }
    found = {name: [word.strip() for word in words] for name, words in unescaped.items() if words}
    assert set(found) == {"page.html", "measured.html"}
    assert all(word.startswith("parts[") for word in found["page.html"])
    assert all("list=" in word or "inputmode=" in word for word in found["measured.html"])
