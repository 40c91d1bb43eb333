"""Confirmations of an overlay: laid over the rule files in memory, refused where they do not fit, kept for a re-run."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from auditor import cli
from auditor.check.limits_used import cite, mark
from auditor.report.model import Report
from auditor.rules.models import Allowance, Version
from auditor.rules.reading import Rulebook, parse_rule_file, read_rules, rulebook_from_texts
from auditor.rules.statements import statements
from auditor.verify import verify
from auditor.vocabulary.problems import Problem, UnusableInput

RULES = """\
id: acme/weight
place: US-GA
topic: weight
title: What the landowner asks
sources:
  contract: {instrument: Contract of sale, seen: own paper}
  web: {instrument: Web page, seen: on screen}
definitions:
  bunk_marks:
    most: 4
    words: red
    source: web
    verified: memory
    tables:
      - {material: chain, grade: "70", sizes: {"0.375": 6600, "0.5": 11300}, source: web, verified: memory}
limits:
  gross_limit_lb:
    means: gross weight on the landowner's roads
    unit: lb
    versions:
      - {value: 78000, until: 2026-06-30, source: contract, at: item 4, verified: read, checked: 2026-01-10}
      - {value: 76000, from: 2026-07-01, source: web, at: item 4, verified: memory, checked: 2026-01-10, note: thinner gravel}
    allowances:
      - {id: dry-road, title: Dry road, form: raised limit, where: {slippery: false}, percent_more: 2, than: base, source: web, verified: secondary}
  tandem_limit_lb:
    means: weight on a tandem
    unit: lb
    versions:
      - {said: [{value: 34000, source: web, verified: secondary}, {value: 36000, source: contract, verified: read}], source: web, verified: secondary}
  soft_counties:
    means: counties with soft roads
    unit: words
    versions: [{words: [Fern, Moss], source: web, verified: memory}]
  span_limit_lb:
    means: gross weight by length
    unit: lb
    versions:
      - table: {rows: [{when: {axle_count: "[0, 4]"}, value: 50000}, {when: {axle_count: {at_least: 5}}, value: 78000}]}
        source: contract
        verified: read
        text_read_of: 2024
rules:
  - id: gross
    title: Gross weight on the landowner's roads
    examines: load_legs
    where: {road_class: private}
    unless: [{id: flat, title: Flat road, where: {county: {none_of: {limit: soft_counties}}}, verified: memory}]
    must:
      gross_weight_lb: {at_most: {limit: gross_limit_lb}}
      all_of: [{gross_weight_lb: {at_most: {limit: tandem_limit_lb}}}, {gross_weight_lb: {at_most: {limit: span_limit_lb}}}]
    duty_of: carrier
    standing: common practice
    grade: minor
    evidence: usual
    source: web
    verified: memory
    action: Load less.
    caution: The contract governs.
"""
WHO = {"by": "FR-0412", "role": "registered forester", "on": "2026-09-01", "edition": "edition of 2026", "page": "12"}
BASE = "acme/weight/gross_limit_lb/base@2026-07-01"
READ = "acme/weight/gross_limit_lb/base@until-2026-06-30"


def told(of: str, **fields: Any) -> dict[str, Any]:
    return {"of": of, **WHO, **fields}


def yaml_of(*confirmations: dict[str, Any]) -> str:
    return "confirmations:\n" + "".join(
        "  - {" + ", ".join(f"{k}: {_flow(v)}" for k, v in c.items()) + "}\n" for c in confirmations
    )


def _flow(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f'"{k}": {_flow(v)}' for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_flow(v) for v in value) + "]"
    days = isinstance(value, str) and value[:2] == "20" and value[4:5] == "-"
    return str(value) if days or isinstance(value, int | float) else f'"{value}"'


@pytest.fixture
def lay(tmp_path: Path) -> Callable[..., Rulebook]:
    """Reads the rule file above with confirmations in a second overlay."""

    def read(*confirmations: dict[str, Any], text: str | None = None) -> Rulebook:
        (tmp_path / "acme").mkdir(exist_ok=True)
        (tmp_path / "acme" / "weight.yaml").write_text(RULES, encoding="utf-8")
        (tmp_path / "office").mkdir(exist_ok=True)
        found = text if text is not None else yaml_of(*confirmations)
        (tmp_path / "office" / "confirmed.yaml").write_text(found, encoding="utf-8")
        return read_rules(["US-GA"], [tmp_path / "acme", tmp_path / "office"])

    return read


def limit(book: Rulebook, name: str = "gross_limit_lb") -> Any:
    return book.get("acme/weight/gross")[0].limits[name]


def problems(read: Callable[[], object]) -> list[str]:
    with pytest.raises(UnusableInput) as refusal:
        read()
    return [str(p) for p in refusal.value.problems]


def test_a_confirmed_value_stays_and_says_who_looked(lay: Callable[..., Rulebook]) -> None:
    book = lay(told(BASE))
    version: Version = limit(book).versions[1]
    assert (version.value, version.verified, version.checked, version.source) == (
        76_000, "confirmed", date(2026, 9, 1), "web"
    )  # fmt: skip
    assert version.confirmed_by is not None
    assert version.confirmed_by.text() == "FR-0412 (registered forester) on 1 September 2026, edition of 2026, page 12"
    assert (version.confirmed_by.instrument, version.confirmed_by.was) == ("Web page", None)
    assert limit(book).versions[0].verified == "read"


def test_the_base_file_stays_as_it_is(lay: Callable[..., Rulebook]) -> None:
    book = lay(told(BASE, value=75000))
    assert book.texts["acme/weight"] == RULES
    assert book.digests["acme/weight"] == hashlib.sha256(RULES.encode()).hexdigest()
    assert "confirmed" not in RULES


def test_a_corrected_value_carries_the_new_source_beside_the_old_one(lay: Callable[..., Rulebook]) -> None:
    book = lay(told(BASE, value=75500, instrument="Contract of 2026", note="item 4 was amended"))
    file, _ = book.get("acme/weight/gross")
    version = file.limits["gross_limit_lb"].versions[1]
    source = file.sources[version.source]
    assert (version.value, version.from_, version.verified, version.at) == (75_500, date(2026, 7, 1), "confirmed", None)
    assert (source.instrument, source.seen) == ("Contract of 2026", "edition of 2026, looked up by FR-0412")
    assert version.confirmed_by is not None
    assert version.confirmed_by.was == "76,000 lb (from memory, Web page item 4)"
    assert version.note == "item 4 was amended. In place of 76,000 lb (from memory, Web page item 4). thinner gravel"
    assert file.sources["web"].instrument == "Web page"


def test_the_value_that_stands_in_the_file_already_is_a_confirmation(lay: Callable[..., Rulebook]) -> None:
    version = limit(lay(told(BASE, value=76000))).versions[1]
    assert (version.value, version.source, version.confirmed_by.was) == (76_000, "web", None)


def test_a_percentage_words_and_whole_shapes_can_be_corrected(lay: Callable[..., Rulebook]) -> None:
    rows = {"rows": [{"when": {"axle_count": {"at_least": 1}}, "value": 77000}]}
    book = lay(
        told("acme/weight/gross_limit_lb/dry-road", value=3),
        told("acme/weight/soft_counties/base", value=["Fern"]),
        told("acme/weight/span_limit_lb/base", value={"table": rows}, dated="2025-03-01", **{"from": "2025-07-01"}),
    )
    allowance: Allowance = limit(book).allowances[0]
    assert (allowance.percent_more, allowance.than, allowance.id) == (3, "base", "dry-road")
    assert limit(book, "soft_counties").versions[0].words == ["Fern"]
    old, new = limit(book, "span_limit_lb").versions
    assert (old.until, new.from_, [r.value for r in new.table.rows]) == (date(2025, 6, 30), date(2025, 7, 1), [77_000])


def test_of_values_that_disagree_the_right_one_is_named(lay: Callable[..., Rulebook]) -> None:
    version = limit(lay(told("acme/weight/tandem_limit_lb/base", value=34000)), "tandem_limit_lb").versions[0]
    assert (version.value, version.said, version.verified) == (34_000, None, "confirmed")
    (refusal,) = problems(lambda: lay(told("acme/weight/tandem_limit_lb/base")))
    assert "value: found none; expected the right one of the values that the sources give" in refusal


def test_rule_texts_exceptions_and_definitions_can_be_confirmed(lay: Callable[..., Rulebook]) -> None:
    table = "acme/weight/definition/bunk_marks/tables/chain-70"
    book = lay(
        told("acme/weight/rule/gross"),
        told("acme/weight/rule/gross/unless/flat"),
        told("acme/weight/definition/bunk_marks", value={"most": 5}),
        told(table, value={"sizes": {"0.5": 11200}}),
    )
    file, rule = book.get("acme/weight/gross")
    assert (rule.verified, rule.unless[0].verified) == ("confirmed", "confirmed")
    assert {s.address: s.verified for s in statements(file)}[table] == "confirmed"
    definition = book.definitions("US-GA")["bunk_marks"]
    # The size that was not named keeps its figure, and the definition's other part its word.
    assert (definition["most"], definition["words"]) == (5, "red")
    assert definition["tables"][0]["sizes"] == {"0.375": 6600, "0.5": 11_200}


REFUSED: dict[str, tuple[dict[str, Any], str]] = {
    "an unknown limit": (told("acme/weight/gross_limt_lb/base@2026-07-01"), f"Did you mean {BASE}"),
    "an unknown rule": (told("acme/weight/rule/gros"), "Did you mean acme/weight/rule/gross"),
    "an unknown place": (told("us-zz/weight/gross_limit_lb/base"), "of: found"),
    "several versions": (
        told("acme/weight/gross_limit_lb/base"),
        f"of which there are several versions; expected the name of one value of the rule files. Did you mean {READ} or {BASE}?",
    ),
    "a word for a number": (told(BASE, value="heavy"), "expected a number, a list of words or a shape of a limit"),
    "yes for a number": ({**told(BASE), "value": "true"}, "expected a number"),
    "a number for a table": (told("acme/weight/span_limit_lb/base", value=5), "expected what can stand for table"),
    "a shape that is none": (told(BASE, value={"valu": 5}), "value.valu"),
    "a value for a text": (told("acme/weight/rule/gross", value=5), "expected no value, for this is a text"),
    "a day without a value": (told(BASE, **{"from": "2026-08-01"}), "expected a day only with a corrected value"),
    "a day before the version": (
        told(BASE, value=75000, **{"from": "2026-06-01"}),
        "from: found 1 June 2026; expected a day on which this value holds, from 1 July 2026",
    ),
    "an unknown part of a definition": (
        told("acme/weight/definition/bunk_marks", value={"mots": 5}), 'found "mots"; expected a name that the definition has. Did you mean most?'
    ),
    "a part with a source of its own": (
        told("acme/weight/definition/bunk_marks", value={"tables": []}), "expected a value without a source of its own"
    ),
    "the source of a definition": (
        told("acme/weight/definition/bunk_marks", value={"verified": "read"}), 'found "verified"'
    ),
    "another kind of value": (
        told("acme/weight/definition/bunk_marks", value={"most": "many"}), "expected a value like 4"
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_what_does_not_fit_is_refused(case: str, lay: Callable[..., Rulebook]) -> None:
    confirmation, expected = REFUSED[case]
    (refusal,) = problems(lambda: lay(confirmation))
    assert expected in refusal
    assert refusal.startswith("office/confirmed.yaml, line 2, ")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("confirmations: []", "at least 1 item"),
        ("confirmations: [{of: a, by: b}]", 'expected the field "role"'),
        (yaml_of({**told(BASE), "valeu": 5}), 'the field "valeu"; expected only fields that confirmations have here. Did you mean value'),
        (yaml_of({**told(BASE), "on": "May"}), "confirmations.0.on"),
        (yaml_of(told(BASE)) + "rules: []\n", 'the field "rules"'),
        (yaml_of({**told(BASE), "by": ""}), "at least 1 character"),
    ],
)  # fmt: skip
def test_a_file_of_another_form_is_refused(text: str, expected: str, lay: Callable[..., Rulebook]) -> None:
    assert any(expected in p for p in problems(lambda: lay(text=text)))


@pytest.mark.parametrize("dated", [None, "2026-01-09", "2026-01-10"])
def test_a_read_value_gives_way_to_a_later_instrument_alone(dated: str | None, lay: Callable[..., Rulebook]) -> None:
    # The text was looked at on 10 January 2026: an instrument of that day is no later one.
    fields = {} if dated is None else {"dated": dated}
    (refusal,) = problems(lambda: lay(told(READ, value=79000, **fields)))
    assert "expected an instrument dated after 10 January 2026, the text that was read" in refusal


def test_a_later_instrument_holds_from_its_day_and_the_read_value_until_then(lay: Callable[..., Rulebook]) -> None:
    old, new, last = limit(lay(told(READ, value=79000, dated="2026-01-11"))).versions
    assert (old.value, old.until, old.verified) == (78_000, date(2026, 1, 10), "read")
    assert (new.value, new.from_, new.until, new.verified) == (
        79_000, date(2026, 1, 11), date(2026, 6, 30), "confirmed"
    )  # fmt: skip
    assert last.from_ == date(2026, 7, 1)


def test_where_an_edition_is_known_the_instrument_must_be_later_than_its_year(lay: Callable[..., Rulebook]) -> None:
    rows = {"table": {"rows": [{"when": {"axle_count": {"at_least": 1}}, "value": 77000}]}}
    (refusal,) = problems(lambda: lay(told("acme/weight/span_limit_lb/base", value=rows, dated="2024-12-31")))
    assert "an instrument dated after 31 December 2024" in refusal


def test_a_read_value_may_be_confirmed_without_more(lay: Callable[..., Rulebook]) -> None:
    assert limit(lay(told(READ))).versions[0].verified == "confirmed"


def test_confirmations_that_disagree_are_refused(lay: Callable[..., Rulebook]) -> None:
    (refusal,) = problems(lambda: lay(told(BASE, value=75000), told(BASE, value=75500, by="PE-9")))
    assert "another value for " + BASE in refusal
    assert "expected confirmations that agree" in refusal
    (refusal,) = problems(lambda: lay(told(BASE), told(BASE, value=75500, by="PE-9")))
    assert "expected confirmations that agree" in refusal


def test_of_confirmations_that_agree_the_later_look_is_shown(lay: Callable[..., Rulebook]) -> None:
    book = lay(told(BASE, on="2026-09-05", by="PE-9"), told(BASE, value=76000))
    version = limit(book).versions[1]
    assert (version.checked, version.confirmed_by.by) == (date(2026, 9, 5), "PE-9")


def test_every_problem_comes_in_one_pass(lay: Callable[..., Rulebook]) -> None:
    found = problems(lambda: lay(told("acme/weight/rule/gros"), told(BASE, value="heavy"), told(BASE)))
    assert len(found) == 2
    assert [p.split(", ")[1] for p in found] == ["line 2", "line 3"]


def test_a_place_that_was_not_asked_for_waits_and_a_misspelt_one_does_not(lay: Callable[..., Rulebook]) -> None:
    book = lay(told("us-sc/weight/no_such_limit/base"), told(BASE))
    assert limit(book).versions[1].verified == "confirmed"
    assert list(book.confirmations.values()) == [["acme/weight"]]


def test_the_day_may_be_left_out_and_the_key_of_a_report_is_understood(lay: Callable[..., Rulebook]) -> None:
    assert limit(lay(told(BASE.replace("@", ":")))).versions[1].verified == "confirmed"


def test_a_rule_file_cannot_call_itself_confirmed() -> None:
    for text in (
        RULES.replace("verified: memory, checked", "verified: confirmed, checked"),
        RULES.replace(
            "note: thinner gravel", "confirmed_by: {by: a, role: b, on: 2026-01-01, instrument: c, edition: d}"
        ),
    ):
        found: list[Problem] = []
        assert parse_rule_file(text.encode(), "x.yaml", found) is None
        assert "who has looked says so under confirmations in an overlay folder" in str(found[0])


def test_a_confirmed_limit_is_as_good_as_a_read_one(lay: Callable[..., Rulebook]) -> None:
    key, name, arm = "acme/weight/gross", "gross_limit_lb", "base:2026-07-01"
    book = lay(told(BASE))
    # The rule's own text is from memory still, and the weakest part counts.
    assert mark(book, key, name, arm) == "memory"
    book = lay(told(BASE), told("acme/weight/rule/gross"))
    assert mark(book, key, name, arm) == "confirmed"
    cited = cite(book, key, name, arm)
    assert cited.confirmed_by == "FR-0412 (registered forester) on 1 September 2026, edition of 2026, page 12"


def test_the_texts_that_a_report_keeps_give_the_same_rules(lay: Callable[..., Rulebook]) -> None:
    book = lay(told(BASE, value=75000), told("acme/weight/rule/gross"), told("us-sc/weight/x/base"))
    again = rulebook_from_texts(book.texts, book.digests)
    assert again.files == book.files
    assert again.confirmations == book.confirmations
    (id_,) = book.confirmations
    altered = {**book.texts, id_: book.texts[id_].replace("75000", "99000")}
    with pytest.raises(UnusableInput):
        rulebook_from_texts(altered, book.digests)


JOB = """\
job: PINE-14
title: Sandy Fork tract
state: US-GA
audit_date: 2026-10-01
contractor: Blue Heron Logging
tables:
  trucks: {rows: [{truck: T7, kind: tractor}]}
  trailers: {rows: [{trailer: L3, kind: frame}]}
  destinations: {rows: [{destination: Otter Mill, state: US-GA}]}
  legs:
    rows: [{destination: Otter Mill, leg: 1, state: US-GA, road_class: private, road_name: Fern track, county: Moss}]
  loads:
    rows:
      - {ticket_number: 1, load_date: 2026-08-04, truck: T7, trailer: L3, destination: Otter Mill, gross_weight_lb: 80000, slippery: true}
"""
# One rule of the landowner's alone: 76,000 lb from memory, so that 80,000 lb is 4,000 lb over an unconfirmed limit.
SMALL = RULES.replace("standing: common practice", "standing: permit condition").replace(
    """      gross_weight_lb: {at_most: {limit: gross_limit_lb}}
      all_of: [{gross_weight_lb: {at_most: {limit: tandem_limit_lb}}}, {gross_weight_lb: {at_most: {limit: span_limit_lb}}}]
""",
    "      gross_weight_lb: {at_most: {limit: gross_limit_lb}}\n",
)
for _name in ("tandem_limit_lb", "span_limit_lb"):
    _start = SMALL.index(f"  {_name}:")
    _ends = [i for i in (SMALL.find("\n  soft_counties:"), SMALL.find("\nrules:")) if i > _start]
    SMALL = SMALL[:_start] + SMALL[min(_ends) + 1 :]


@pytest.fixture
def checked(tmp_path: Path) -> Callable[..., tuple[int, Report]]:
    """Runs `auditor check` on the job above under the landowner's rule file and the confirmations given."""

    def run(*confirmations: dict[str, Any]) -> tuple[int, Report]:
        for folder, name, text in (("pine", "job.yaml", JOB), ("acme", "weight.yaml", SMALL)):
            (tmp_path / folder).mkdir(exist_ok=True)
            (tmp_path / folder / name).write_text(text, encoding="utf-8")
        overlays = [str(tmp_path / "acme")]
        if confirmations:
            (tmp_path / "office").mkdir(exist_ok=True)
            (tmp_path / "office" / "confirmed.yaml").write_text(yaml_of(*confirmations), encoding="utf-8")
            overlays.append(str(tmp_path / "office"))
        target = tmp_path / "report.json"
        status = cli.main(["check", str(tmp_path / "pine"), "--overlay", *overlays, "--write", str(target)])
        return status, Report.model_validate_json(target.read_bytes())

    return run


def the_finding(report: Report) -> Any:
    (finding,) = (f for f in report.jobs[0].findings if f.rule == "acme/weight/gross")
    return finding


def test_an_unconfirmed_finding_counts_once_limit_and_rule_are_confirmed(
    checked: Callable[..., tuple[int, Report]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, before = checked()
    assert not the_finding(before).confirmed
    assert before.jobs[0].conclusion.unconfirmed_count == 1
    status, report = checked(told(BASE), told("acme/weight/rule/gross"))
    finding = the_finding(report)
    assert (finding.confirmed, finding.second_hand, finding.items[0].margin) == (True, False, 4_000)
    assert (status, report.jobs[0].conclusion.unconfirmed_count) == (cli.NONCONFORMITIES, 0)
    assert report.jobs[0].conclusion.minor_count == before.jobs[0].conclusion.minor_count + 1
    (cited,) = (x for x in report.jobs[0].limits if x.key == "acme/weight/gross_limit_lb/base:2026-07-01")
    words = "FR-0412 (registered forester) on 1 September 2026, edition of 2026, page 12"
    assert (cited.verified, cited.confirmed_by) == ("confirmed", words)
    assert f"confirmed by {words}" in " ".join(capsys.readouterr().out.split())
    assert [r.id for r in report.rules if r.id.startswith("confirmations/")]


def test_a_corrected_limit_judges(checked: Callable[..., tuple[int, Report]]) -> None:
    _, report = checked(told(BASE, value=79000), told("acme/weight/rule/gross"))
    # 80,000 - 79,000 = 1,000 lb over
    assert the_finding(report).items[0].margin == 1_000


def test_a_report_with_confirmations_stands_when_run_again(
    checked: Callable[..., tuple[int, Report]], tmp_path: Path
) -> None:
    checked(told(BASE, value=79000), told("acme/weight/rule/gross"))
    found = verify(tmp_path / "report.json", [tmp_path / "pine"])
    assert (found.status, found.faults, found.differences) == ("stands", (), ())


def test_confirmations_of_places_off_the_way_are_not_kept(checked: Callable[..., tuple[int, Report]]) -> None:
    _, report = checked(told("us-sc/weight/gross_limit_lb/base"))
    assert [r.id for r in report.rules if r.id.startswith("confirmations/")] == []


def test_the_example_of_the_readme_is_taken(tmp_path: Path) -> None:
    readme = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
    (shown,) = (b.split("```")[0] for b in readme.split("```yaml\n")[1:] if b.startswith("confirmations:"))
    (tmp_path / "confirmed.yaml").write_text(shown, encoding="utf-8")
    files = read_rules(["US-SC"], [tmp_path]).files
    confirmed = {s.address for f in files for s in statements(f) if s.verified == "confirmed"}
    assert confirmed == {"us-sc/weight/tandem_limit_lb/tolerance-15", "us/securement/few_processed_logs/base"}
