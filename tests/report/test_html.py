"""The page: one file that loads nothing, reads on a phone and on paper, and is never mistaken."""

import base64
import hashlib
import re
from html.parser import HTMLParser

import pytest

from soak.report.output.html import page
from soak.report.output.privacy import for_buyer

VOID = {"meta", "img", "br", "link", "input", "hr"}


class Reader(HTMLParser):
    """Reads a page strictly: every element is closed, in order; texts and attributes are kept."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.inside: dict[str, list[str]] = {}
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.seen.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.seen.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag, f"</{tag}> closes the wrong element"

    def handle_data(self, data):
        if data.strip():
            self.words.append(" ".join(data.split()))
            self.inside.setdefault(self.open[-1], []).append(data)

    @property
    def text(self) -> str:
        return " ".join(self.words)

    def every(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.seen if name == tag]


@pytest.fixture(params=["bench", "buyer"])
def shown(request, sheet) -> Reader:
    return Reader(page(sheet if request.param == "bench" else for_buyer(sheet)))


def test_the_page_is_well_formed_and_ids_are_unique(shown):
    """Every element is closed in order, every id is there once, every reference has its id."""
    ids = [attrs["id"] for _, attrs in shown.seen if attrs.get("id")]
    assert len(ids) == len(set(ids))
    named = " ".join(attrs.get("aria-labelledby") or "" for _, attrs in shown.seen).split()
    assert set(named) <= set(ids)


def test_nothing_is_loaded_and_nothing_runs(shown):
    """No script, no link, no frame, no handler; addresses are data or a pattern on the page."""
    tags = {tag for tag, _ in shown.seen}
    assert not tags & {"script", "link", "iframe", "object", "embed", "form", "base", "a", "image"}
    for tag, attrs in shown.seen:
        for name, value in attrs.items():
            assert not name.startswith("on"), (tag, name)
            assert name != "style"
            if name in ("src", "href", "xlink:href"):
                assert value.startswith("data:image/")
            if value and "url(" in value:
                assert re.fullmatch(r"url\(#[\w-]+\)", value)


def test_the_security_policy_allows_only_this_style_and_data_pictures(shown):
    """default-src is none and the style sheet's SHA-256 is the one on the page (W3C CSP 3)."""
    policy = next(a for a in shown.every("meta") if a.get("http-equiv"))["content"]
    style = "".join(shown.inside["style"])
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert policy.startswith("default-src 'none';")
    assert f"style-src 'sha256-{digest}'" in policy
    assert "img-src data:;" in policy
    assert "unsafe" not in policy
    assert "@import" not in style
    assert "url(" not in style


@pytest.mark.parametrize(
    "heading",
    [
        "The unit", "Counted", "Repairs, and what showed each", "Electrical safety",
        "What was tested", "What was NOT tested", "Known defects and limits",
        "All soaks since the repair", "Cautions", "About this report",
    ],
)  # fmt: skip
def test_every_section_is_on_the_page(heading, shown):
    """Tested and NOT tested are headings of the same rank, like all the others."""
    assert heading in shown.inside["h2"]


def test_grade_counts_verdicts_and_cautions_are_in_the_text(shown):
    """What a reader looks for is there in words."""
    for words in (
        "Not ready: failed", "The picture broke once", "63 of 63 starts worked", "not met",
        "not shown", "plays sound", "Electrical safety test: NOT DONE", "not a safety device",
        "It is not an electrical safety test", "relate only to the item tested",
        "Second soak since the repair; the one before it: not ready: failed.",
        "The lid is scratched.", "0.10 s", "63 starts", "2.40 GB written",
    ):  # fmt: skip
        assert words in shown.text, words


def test_a_ready_unit_is_called_ready_in_the_same_place(make_judgement, make_night, make_context):
    """The grade's words are as large for ready as for not ready."""
    from soak.report.contents.sheet import gather

    judgement = make_judgement(ready=True, because="all met", points=())
    text = page(gather(judgement, [make_night()], make_context()))
    assert '<p class="grade">Ready for sale</p>' in text


def test_the_bound_is_small_print_and_the_count_is_large(shown, sheet):
    """The count stands in the large class, its bound in the small one."""
    text = page(sheet)
    assert re.search(
        r'<p class="large">63 of 63 starts worked</p><p class="small">starts: share of', text
    )


def test_each_chart_has_a_wide_and_a_narrow_drawing_with_words(shown):
    """Four charts, two drawings each, all with a role for screen readers."""
    drawn = shown.every("svg")
    assert len(drawn) == 8
    assert all(one["role"] == "img" and one["aria-labelledby"] for one in drawn)


def test_pictures_are_inside_the_file_and_have_words(shown):
    """Both frames are data with what they show as alternative text."""
    alts = [one["alt"] for one in shown.every("img")]
    assert alts == ["first (picture) – capture at 0:01:00", "during (black) – capture at 4:00:00"]


@pytest.mark.parametrize("audience", ["bench", "buyer"])
@pytest.mark.parametrize("simulated", [True, False])
def test_simulated_stands_across_the_page_if_and_only_if_it_was(audience, simulated, make_sheet):
    """Title, banner and the word across every screen and printed page."""
    made = make_sheet(simulated=simulated)
    shown = Reader(page(made if audience == "bench" else for_buyer(made)))
    across = [attrs for _, attrs in shown.seen if attrs.get("class") == "across"]
    assert bool(across) is simulated
    assert any(attrs.get("data-word") == "SIMULATED" for attrs in across) is simulated
    assert ("SIMULATED. No real unit was tested" in shown.text) is simulated
    assert shown.inside["title"][0].startswith("SIMULATED: ") is simulated
    style = "".join(shown.inside["style"])
    assert re.search(r"\.across \{[^}]*position: fixed", style)
    assert re.search(r"\.across::before \{ content: attr\(data-word\)", style)
    assert not re.search(r"@media print[^@]*\.across[^}]*display: none", style)


def test_one_simulated_soak_among_real_ones_marks_the_whole_report(
    make_judgement, make_night, make_context
):
    """A job with a simulated soak is a simulated job."""
    from soak.report.contents.sheet import gather

    soaks = [make_night(soak_id="a", simulated=True), make_night(soak_id="b")]
    assert gather(make_judgement(), soaks, make_context()).report.simulated


def test_what_was_not_met_stands_before_what_was(shown):
    """A reader on a phone meets the failure first, not after thirty that were met."""
    verdicts = [word for word in shown.words if word in ("met", "not met", "not shown")]
    assert verdicts.index("not met") < verdicts.index("met")
