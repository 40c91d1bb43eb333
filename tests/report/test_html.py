"""The page for screens: all inside one file, readable on a phone, escaped, the same every time."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from auditor.report import wording as say
from auditor.report.html import html_bytes
from auditor.report.model import StaleLimit
from auditor.report.pages import MOST_ITEMS
from auditor.report.privacy import PARTS, as_draft, with_parts
from tests.report.sample_report import GROSS, LONG_WORD, many_jobs, one_job
from tests.report.sample_site import site_report
from tests.report.screens import CHROMIUM, TAP_PX, Page, measured

ROOT = Path(__file__).resolve().parents[2]
ONE, MANY, SITE = one_job(), many_jobs(), site_report()
SITE.jobs[0].judgements[0].reason += f" {LONG_WORD}"


@pytest.fixture(scope="module", params=[ONE, MANY, SITE], ids=["one job", "many jobs", "a site"])
def page(request: pytest.FixtureRequest) -> Page:
    return Page(html_bytes(request.param).decode("utf-8"))


def test_every_tag_is_closed_and_every_link_has_its_end(page: Page) -> None:
    assert page.wrong == [] and page.open == []
    names = [attrs["id"] for _, attrs in page.tags if "id" in attrs]
    assert len(names) == len(set(names))
    links = [str(attrs["href"]) for tag, attrs in page.tags if tag == "a"]
    assert links and [link for link in links if link.removeprefix("#") not in names] == []


def test_nothing_is_fetched_and_nothing_runs(page: Page) -> None:
    tags = {tag for tag, _ in page.tags}
    assert not tags & {"script", "link", "img", "iframe", "object", "embed", "image", "use", "base", "form"}
    fetched = {"src", "srcset", "data", "poster", "action", "background", "xlink:href"}
    assert not [a for _, attrs in page.tags for a in attrs if a in fetched or a.startswith("on")]
    content = html_bytes(ONE).decode("utf-8")
    assert not re.search(
        r"url\(|@import|javascript:|//[a-z]", content.replace('xmlns="http://www.w3.org/2000/svg"', "")
    )
    policy = [attrs["content"] for tag, attrs in page.tags if tag == "meta" and "http-equiv" in attrs]
    assert policy == ["default-src 'none'; style-src 'unsafe-inline'"]


def test_what_a_reader_needs_can_be_read() -> None:
    text, job = Page(html_bytes(ONE).decode("utf-8")).text, ONE.jobs[0]
    assert all(words in text for words in (*job.conclusion.sentences, *say.cautions(ONE), ONE.digest))
    for finding in job.findings:
        assert f"{finding.number}. {say.named(finding)} {say.extent(finding)}" in text
        assert finding.action in text
        assert all(item.subject in text and item.source in text for item in finding.items)
    assert all(fact.meaning in text and fact.todo in text for fact in job.missing)
    assert all(limit.key.split("/")[0] and limit.instrument in text for limit in job.limits)
    assert all(file.sha256 in text for file in job.evidence)
    # 88,660 - 84,000 = 4,660 lb = 2.33 tons.
    assert "88,660 lb at most 84,000 lb L1 4,660 lb (2.3 tons) 4,660 lb less wood" in text


def test_texts_of_the_record_are_escaped() -> None:
    report = ONE.model_copy(deep=True)
    report.jobs[0].contractor = '<img src="x.png" onerror="alert(1)"> & Sons\x00'
    report.jobs[0].findings[0].items[0].subject = "</td><script>alert(1)</script>"
    content = html_bytes(report).decode("utf-8")
    assert "<img" not in content and "<script" not in content and "\x00" not in content
    assert "&lt;img src=" in content and "&lt;/td&gt;&lt;script&gt;" in content


def test_an_edition_says_at_the_top_what_it_is() -> None:
    report = with_parts(as_draft(ONE.model_copy(update={"names": "codes"})), [p for p in PARTS if p != "findings"])
    text = Page(html_bytes(report).decode("utf-8")).text
    start = text.index("Draft: not for use outside the office that made it.")
    assert start < text.index("Names are replaced by codes.") < text.index("Left out: findings.") < text.index("Job ")
    assert "Findings Left out of this report." in text and "Findings None." not in text
    assert 'class="edition' not in html_bytes(ONE).decode("utf-8")


def test_limits_that_no_one_looked_at_for_long_are_named() -> None:
    report = ONE.model_copy(deep=True, update={"stale_after_months": 12})
    report.jobs[0].stale = [StaleLimit(limit_key=GROSS, name="gross weight on state routes", checked=None)]
    text = Page(html_bytes(report).decode("utf-8")).text
    assert say.stale_heading(report.jobs[0], report) in text and say.stale(report.jobs[0].stale[0]) in text


def test_a_finding_of_many_loads_shows_the_worst_and_names_the_rest() -> None:
    report = ONE.model_copy(deep=True)
    finding = report.jobs[0].findings[0]
    finding.items = [finding.items[0].model_copy(update={"subject": f"T{n}"}) for n in range(MOST_ITEMS + 2)]
    text = Page(html_bytes(report).decode("utf-8")).text
    assert f"2 further loads: T{MOST_ITEMS}, T{MOST_ITEMS + 1}" in text


def test_a_digest_that_does_not_fit_is_not_shown() -> None:
    changed = html_bytes(ONE.model_copy(update={"digest": "0" * 64})).decode("utf-8")
    assert "0" * 64 not in changed and "draft, not sealed" in changed


def test_two_processes_with_other_hash_seeds_give_the_same_bytes() -> None:
    code = (
        "import hashlib\n"
        "from auditor.report.html import html_bytes\n"
        "from tests.report.sample_report import one_job\n"
        "print(hashlib.sha256(html_bytes(one_job())).hexdigest())\n"
    )
    outputs = {
        subprocess.run(
            [sys.executable, "-c", code], cwd=ROOT, env=os.environ | {"PYTHONHASHSEED": seed, "TZ": zone},
            capture_output=True, text=True, check=True,
        ).stdout
        for seed, zone in (("1", "UTC"), ("4242", "Pacific/Auckland"))
    }  # fmt: skip
    assert len(outputs) == 1


@pytest.mark.slow
@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here to lay the page out")
@pytest.mark.parametrize("report", [ONE, MANY, SITE], ids=["one job", "many jobs", "a site"])
@pytest.mark.parametrize("width", [360, 1200])
def test_the_page_fits_a_phone_and_a_desk(report: object, width: int, tmp_path: Path) -> None:
    content = html_bytes(report).decode("utf-8")  # type: ignore[arg-type]
    assert LONG_WORD in content, "a word that is wider than a phone"
    found = measured(content, width, tmp_path)
    assert found["scroll"] == found["inside"] == width and found["wide"] == []
    assert found["taps"] > 10 and (width > 360 or found["least"] >= TAP_PX)
    assert found["letter"] >= (8 if width == 360 else 12)
