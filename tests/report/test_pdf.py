"""The PDF: what can be read in it, what it is made of, and that it is the same every time."""

from __future__ import annotations

import hashlib
import io
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from pypdf import PageObject, PdfReader

from auditor.report import wording as say
from auditor.report.first_things import first_things
from auditor.report.model import Report
from auditor.report.pdf import inside_package, pdf_bytes, report_html, write_pdf
from auditor.report.privacy import PARTS, as_draft, with_parts
from tests.report.sample_report import many_jobs, one_job
from tests.report.sample_site import site_report

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "auditor" / "report"
ONE, SITE = one_job(), site_report()


@pytest.fixture(scope="module")
def content() -> bytes:
    return pdf_bytes(ONE)


@pytest.fixture(scope="module")
def pages(content: bytes) -> list[str]:
    return [_flat(page.extract_text()) for page in PdfReader(io.BytesIO(content)).pages]


def _flat(text: str) -> str:
    return " ".join(text.split())


def test_the_text_layer_holds_the_key_sentences(pages: list[str]) -> None:
    job, text = ONE.jobs[0], " ".join(pages)
    assert all(sentence in pages[0] for sentence in job.conclusion.sentences)
    for thing in first_things(job):
        assert all(words in pages[0] for words in (thing.title, thing.action, thing.figure, thing.loads, thing.worst))
    assert "1 Gross weight on state routes (XX) Load lighter for State route 14" in pages[0]
    assert "up to 4,660 lb over 30 of 150 loads" in pages[0]
    assert say.status("nonconformities") in pages[0]
    assert say.digest_short(ONE.digest) in pages[0]
    assert all(sentence in text for sentence in (*say.STATEMENT, *ONE.cautions))
    assert all(words in text for words in ("county road bonds in Example County", "10240, 10251, 10262"))


def test_every_finding_and_item_can_be_read(pages: list[str]) -> None:
    text = " ".join(pages)
    for finding in ONE.jobs[0].findings:
        assert f"{finding.number} {say.named(finding)}" in text
        assert say.extent(finding) in text
        assert all(item.subject in text for item in finding.items)
    # Item 29 of the gross weights: 84,020 + 29 x 160 = 88,660 lb = 44.33 tons, 4,660 lb = 2.33 tons over.
    assert "88,660 lb 44.33 tons at most 84,000 lb 42.00 tons · L1 4,660 lb 2.33 tons 4,660 lb less wood" in text


def test_every_file_and_rule_file_has_its_whole_sum(pages: list[str]) -> None:
    unbroken = "".join("".join(pages).split())
    sums = [file.sha256 for file in ONE.jobs[0].evidence] + [rule.sha256 for rule in ONE.rules] + [ONE.digest]
    assert all(value in unbroken for value in sums)


def test_headings_of_a_table_repeat_on_every_page(pages: list[str]) -> None:
    carrying = [page for page in pages if re.search(r"tickets_march\.xlsx, sheet Loads, row", page)]
    assert len(carrying) > 2
    assert all("Ticket Part of the load, vehicle" in page for page in carrying)


def test_pages_are_numbered_and_carry_job_and_digest(pages: list[str]) -> None:
    for number, page in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in page
        assert "Job PINE-07" in page
        assert f"digest {say.digest_short(ONE.digest)}" in page


def test_text_stays_between_the_margins(content: bytes) -> None:
    starts: list[tuple[float, str]] = []
    for page in PdfReader(io.BytesIO(content)).pages:
        assert (page.mediabox.width, page.mediabox.height) == (612, 792)  # letter
        page["/Resources"].pop("/XObject", None)  # the chart has a scale of its own, and a test of its own
        page.extract_text(
            visitor_text=lambda text, cm, tm, *_: starts.append((cm[0] * tm[4] + cm[4], text)) if text.strip() else None
        )
    # Margins of 0.7 in: 50.4 pt on either side.
    assert starts and all(50 <= x < 561.6 for x, _ in starts), [s for s in starts if not 50 <= s[0] < 561.6]


def test_the_rules_of_tables_stay_between_the_margins(content: bytes) -> None:
    ends: list[float] = []
    for page in PdfReader(io.BytesIO(content)).pages:
        drawn = page.get_contents()
        assert drawn is not None
        ends += [float(x) for x in re.findall(r"^(-?[\d.]+) -?[\d.]+ [ml]$", drawn.get_data().decode("latin-1"), re.M)]
    # In CSS pixels, 96 to the inch: a margin of 0.7 in on a page of 8.5 in. The chart, in units of its own, is narrower.
    assert len(ends) > 500 and max(ends) < 7.8 * 96 + 0.1


def test_only_the_shipped_fonts_are_used(content: bytes) -> None:
    names = {
        str(font.get_object()["/BaseFont"])
        for page in PdfReader(io.BytesIO(content)).pages
        for font in page["/Resources"]["/Font"].values()
    }
    assert names and all("Report-" in name for name in names), names


def test_the_clock_leaves_no_trace(content: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    monkeypatch.setattr("time.time", lambda: 2_000_000_000.0)
    assert pdf_bytes(ONE) == content
    told = PdfReader(io.BytesIO(content)).metadata
    assert told is not None and told.title == "Harvest audit: PINE-07"
    assert told.creation_date_raw is not None and told.creation_date_raw.startswith("D:20260504")
    assert os.environ.get("SOURCE_DATE_EPOCH") is None, "the time set for the fonts must not stay"
    undated = ONE.model_copy(update={"audit_date": None})
    assert 'content="1970-01-01"' in report_html(undated)


@pytest.mark.slow
def test_two_processes_with_other_hash_seeds_give_the_same_bytes(content: bytes) -> None:
    code = (
        "import hashlib\n"
        "from auditor.report.json_text import report_json\n"
        "from auditor.report.pdf import pdf_bytes\n"
        "from tests.report.sample_report import one_job\n"
        "print(*(hashlib.sha256(make(one_job())).hexdigest() for make in (report_json, pdf_bytes)))\n"
    )
    outputs = {
        subprocess.run(
            [sys.executable, "-c", code], cwd=ROOT, env=os.environ | {"PYTHONHASHSEED": seed, "TZ": zone},
            capture_output=True, text=True, check=True,
        ).stdout
        for seed, zone in (("1", "UTC"), ("4242", "Pacific/Auckland"))
    }  # fmt: skip
    assert len(outputs) == 1
    assert outputs.pop().split()[1] == hashlib.sha256(content).hexdigest()


def test_a_report_whose_digest_does_not_fit_is_marked_as_draft() -> None:
    changed = ONE.model_copy(update={"digest": "0" * 64})
    page = report_html(changed)
    assert "draft, not sealed" in page
    assert "0000 0000" not in page and "0" * 64 not in page
    assert "draft" not in report_html(ONE)


def test_a_draft_says_so_on_every_page_and_left_out_parts_are_not_called_empty() -> None:
    report = with_parts(as_draft(ONE.model_copy(update={"names": "codes"})), [p for p in PARTS if p != "findings"])
    pages = [_flat(page.extract_text()) for page in PdfReader(io.BytesIO(pdf_bytes(report))).pages]
    assert all("DRAFT" in page for page in pages)
    assert "Names are replaced by codes. Left out: findings." in pages[0]
    text = " ".join(pages)
    assert "Findings Left out of this report." in text and "Findings None." not in text


def test_corrective_actions_list_nonconformities_and_what_the_law_demands(pages: list[str]) -> None:
    text = " ".join(pages)
    start = text.index("Corrective actions")
    actions = text[start : text.index("For the contractor: name, signature, date", start)]
    assert "MAJOR: Gross weight on state routes (XX)" in actions
    # Findings 7 and 8 are advice; two of the three missing facts are demanded by law.
    assert "Warning flag" not in actions and "Ticket shows the certified scale" not in actions
    assert "E1 Copy the last day from the permit." in actions and "E2 Ask the mill for a copy" in actions
    assert "E3" not in actions and "E3 weight of each axle" in text


def test_each_limit_stands_once_under_its_source_and_items_point_to_it(pages: list[str]) -> None:
    text = " ".join(pages)
    listed = text[text.rindex("Limits and their sources") :]
    assert [len(re.findall(rf"\bL{n}\b", listed)) for n in range(1, 8)] == [1] * 7
    assert "L1 gross weight on state routes (XX)" in listed


def test_many_jobs_begin_with_an_overview_and_a_new_page_each(tmp_path: Path) -> None:
    report = many_jobs()
    write_pdf(report, tmp_path / "all.pdf")
    pages = [_flat(page.extract_text()) for page in PdfReader(tmp_path / "all.pdf").pages]
    assert "5 jobs" in pages[0] and "ASH-03" in pages[0]
    # 150 + 150 + 3 x 1 loads; the second job begins on the page that the overview names.
    assert "303 loads" in pages[0] and "Gross weight on state routes (XX) up to 4,660 lb over" in pages[0]
    named = re.search(r"ELM-11 Example Timber Company ([0-9]+) 150 ", pages[0])
    assert named and "Job ELM-11" in pages[int(named.group(1)) - 1]
    assert "Job ELM-11" not in pages[int(named.group(1)) - 2]
    assert sum("Limits and their sources" in page for page in pages) == 1, "limits stand once for all jobs"
    for job in report.jobs:
        first = _flat(job.title or job.job)[:40]
        assert sum(page.replace("HARVEST AUDIT ", "").startswith(first) for page in pages) >= 1


def test_texts_of_the_record_are_escaped() -> None:
    report = ONE.model_copy(deep=True)
    report.jobs[0].contractor = '<img src="https://example.org/x.png"> & Sons\x00'
    page = report_html(report)
    assert "&lt;img src=" in page and "<img" not in page and "\x00" not in page


@pytest.mark.parametrize(
    "url",
    ["https://example.org/a.css", "file:///etc/passwd", "data:text/css,a{}", "file://host/a.ttf",
     (PACKAGE / "fonts" / ".." / "model.py").as_uri(), (PACKAGE / "fonts").as_uri() + "/%2e%2e/model.py"],
)  # fmt: skip
def test_addresses_outside_the_package_are_refused(url: str) -> None:
    with pytest.raises(ValueError, match="outside its package"):
        inside_package(url)


def test_shipped_fonts_can_be_reached_and_have_their_licence() -> None:
    faces = sorted((PACKAGE / "fonts").glob("*.ttf"))
    assert 2 <= len(faces) <= 4
    assert all(inside_package(face.as_uri()) == face for face in faces)
    assert "Bitstream Vera Fonts Copyright" in (PACKAGE / "fonts" / "LICENSE-DejaVu.txt").read_text(encoding="utf-8")
    used = set(re.findall(r"fonts/([\w-]+\.ttf)", (PACKAGE / "styles" / "report.css").read_text(encoding="utf-8")))
    assert used == {face.name for face in faces}


VERDICT = re.compile(r"\b(un)?safe(ly|ty)?\b|\b(il)?legal(ly)?\b|\blawful(ly)?\b|\bcompliant\b", re.IGNORECASE)


def _own_words(template: str) -> str:
    """A template's own text, without what it fills in and without markup."""
    return re.sub(r"\{\{.*?\}\}|\{%.*?%\}|<[^>]*>", " ", template, flags=re.DOTALL)


def test_templates_give_no_verdict() -> None:
    templates = sorted((PACKAGE / "templates").glob("*.html"))
    assert len(templates) >= 5
    wrong = {p.name: found for p in templates if (found := VERDICT.findall(_own_words(p.read_text(encoding="utf-8"))))}
    assert wrong == {}
    assert VERDICT.search(_own_words("<p>This load is {{ x }} safe.</p>")), "the search must find one"


def test_the_words_safe_and_legal_stand_only_where_they_are_disclaimed() -> None:
    words = (PACKAGE / "wording.py").read_text(encoding="utf-8")
    for sentence in say.STATEMENT:
        assert sentence in words
        words = words.replace(sentence, "")
    assert not VERDICT.search(words)
    verdicts = [VERDICT.search(s) for s in say.STATEMENT]
    assert [v.group() if v else None for v in verdicts] == [None, "legal", "safe", None]
    assert "not legal advice" in say.STATEMENT[1] and "never calls" in say.STATEMENT[2]


def _links(content: bytes) -> list[tuple[str, str]]:
    """Each link of a PDF: the name of the place it leads to, and the text from that place on, without gaps."""
    reader = PdfReader(io.BytesIO(content))
    found: list[tuple[str, str]] = []
    for page in reader.pages:
        for annotation in page.get("/Annots") or []:
            link = annotation.get_object()
            place = reader.named_destinations[link.get("/Dest") or link["/A"]["/D"]]
            below = reader.pages[reader.get_destination_page_number(place) or 0]
            there = sorted((-round(y), x, t) for x, y, t in _texts(below) if y < float(place.top) and t.strip())
            found.append((str(place.title), _close("".join(t for *_, t in there))))
    return found


def _close(text: str) -> str:
    """Without gaps: a PDF sets words by their places."""
    return "".join(text.split())


def _texts(page: PageObject) -> list[tuple[float, float, str]]:
    found: list[tuple[float, float, str]] = []

    def at(text: str, cm: list[float], tm: list[float], *_: object) -> None:
        found.append((cm[0] * tm[4] + cm[4], cm[3] * tm[5] + cm[5], text))

    page.extract_text(visitor_text=at)
    return found


def _outline(content: bytes) -> list[str]:
    def titles(entries: list[Any]) -> list[str]:
        return [t for e in entries for t in (titles(e) if isinstance(e, list) else [str(e.title)])]

    return titles(PdfReader(io.BytesIO(content)).outline)


@pytest.mark.parametrize("report", [ONE, many_jobs(), SITE], ids=["one job", "many jobs", "a site"])
def test_a_link_to_a_finding_leads_to_its_heading(report: Report) -> None:
    content = pdf_bytes(report)
    names = {
        f"job-{place}-{finding.number}": f"{finding.number} {say.named(finding)}"
        for place, job in enumerate(report.jobs, start=1)
        for finding in job.findings
    }
    links = [link for link in _links(content) if link[0] in names]
    to_mend = {
        f"job-{place}-{finding.number}"
        for place, job in enumerate(report.jobs, start=1)
        for finding in job.findings
        if finding.kind == "nonconformity"
    }
    assert to_mend and to_mend <= {name for name, _ in links}, "each has a corrective action, which leads to it"
    assert [link for link in links if not link[1].startswith(_close(names[link[0]]))] == []
    assert set(names.values()) <= set(_outline(content))


def test_numbers_of_facts_and_limits_lead_to_their_rows() -> None:
    links = _links(pdf_bytes(ONE))
    facts = [name for name, _ in links if re.fullmatch(r"job-1-E\d+", name)]
    assert facts == [f"job-1-E{n}" for n, fact in enumerate(say.ranked(ONE.jobs[0].missing), 1) if fact.demanded_by_law]
    limits = [(name, there) for name, there in links if re.fullmatch(r"L\d+", name)]
    assert limits and all(there.startswith(name) for name, there in limits)


def test_the_outline_names_the_chapters_of_a_site() -> None:
    titles = _outline(pdf_bytes(SITE))
    assert {"Conclusion", "Fix first", "Map of the site", "Findings", "The walk: Roads and trails", "Cautions"} <= {
        *titles
    }
    assert f"Bank {SITE.jobs[0].walk[0].name}" in titles


def test_without_its_findings_a_report_has_no_link_to_one() -> None:
    content = pdf_bytes(with_parts(SITE, [part for part in PARTS if part != "findings"]))
    assert [name for name, _ in _links(content) if re.fullmatch(r"job-\d+-\d+", name)] == []
