from __future__ import annotations

import datetime as dt
import hashlib
from pathlib import Path

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from auditor.record import read_jobs, record_from_rows
from auditor.record.convert import dtype
from auditor.vocabulary import TABLES
from auditor.vocabulary.problems import UnusableInput
from tests.record.jobs import HEADINGS, LEGS, TRUCKS, Build, messages, save_workbook

LOADS = "  loads: loads.csv\n"


def test_every_table_is_there_with_its_columns_and_types(build: Build) -> None:
    record = read_jobs([build()])
    assert list(record.tables) == list(TABLES)
    for table in TABLES.values():
        fields = {f.name: dtype(f) for f in table.fields if f.name != "job"}
        wanted = {"job": pl.String(), **fields, "_file": pl.String(), "_sheet": pl.String(), "_row": pl.UInt32()}
        assert dict(record.tables[table.name].schema) == wanted
    assert record.tables["loads"].height == 0


def test_the_job_and_its_evidence(build: Build) -> None:
    top = "title: Pine ridge\noperation_start: 2026-03-02\nsold_by_load: NO\ncriteria: [size, us/securement/x]\ndeclared_complete: [{table: load_checks, from: 2026-03-02, until: 2026-05-01}]\n"
    folder = build(LOADS, top, loads=f"{HEADINGS}\n1,T1,Mill A\n2,T2,Mill A\n")
    record = read_jobs([folder])
    job = record.tables["job"].row(0, named=True)
    assert (job["job"], job["state"], job["operation_start"], job["sold_by_load"], job["_file"]) == (
        "PINE-14", "US-GA", dt.date(2026, 3, 2), False, "job.yaml",
    )  # fmt: skip
    assert [(e.path, e.tables, e.row_count) for e in record.evidence] == [
        ("job.yaml", ("job", "destinations", "legs"), 3),
        ("trucks.csv", ("trucks",), 2),
        ("loads.csv", ("loads",), 2),
    ]
    for entry in record.evidence:
        content = (folder / entry.path).read_bytes()
        assert (entry.job, entry.sha256, entry.size_bytes) == (
            "PINE-14",
            hashlib.sha256(content).hexdigest(),
            len(content),
        )
    assert record.criteria == {"PINE-14": ("size", "us/securement/x")}
    assert record.declared.rows() == [("PINE-14", "load_checks", dt.date(2026, 3, 2), dt.date(2026, 5, 1))]


def test_a_ticket_number_seen_before_gets_a_key_of_its_own(build: Build) -> None:
    rows = "".join(f"{n},T1,Mill A\n" for n in (7, 8, 7, 7))
    record = read_jobs(
        [
            build(LOADS, loads=f"{HEADINGS}\n{rows}"),
            build(LOADS, name="oak", code="OAK", loads=f"{HEADINGS}\n7,T1,Mill A\n"),
        ]
    )
    assert record.tables["loads"].select("job", "load", "ticket_number").rows() == [
        ("PINE-14", "7", "7"), ("PINE-14", "8", "8"), ("PINE-14", "7#2", "7"), ("PINE-14", "7#3", "7"), ("OAK", "7", "7"),
    ]  # fmt: skip
    assert 'loads.load: 1 ticket numbers occur more than once in job PINE-14; told apart by "#2", "#3"' in record.notes


def test_one_job_reads_the_same_alone_and_among_others(build: Build) -> None:
    metric = "  loads: {file: loads.csv, columns: {kg: {field: gross_weight_lb, unit: kg}}}\n"
    one = build(LOADS, loads=f"{HEADINGS},gross_weight_lb\n1,T1,Mill A,79000\n")
    two = build(metric, name="oak", code="OAK", loads=f"{HEADINGS},kg\n1,T2,Mill A,35000\n")
    both = read_jobs([one, two]).tables["loads"]
    assert both.equals(pl.concat([read_jobs([one]).tables["loads"], read_jobs([two]).tables["loads"]]))
    assert both["gross_weight_lb"].to_list() == [79000, 77162]  # 35000 / 0.45359237 = 77161.79


def test_problems_of_all_files_and_jobs_come_in_one_pass(build: Build, tmp_path: Path) -> None:
    one = build("  loads: [loads.csv, none.csv]\n", loads=f"{HEADINGS},dark,bad\n1,T9,Mill A,x,1\n")
    two = build(LOADS, "stat: x\n", name="oak", code="OAK")
    found = messages(tmp_path, [one, two, tmp_path / "missing"])
    assert [m.split(": found")[0] for m in found] == [
        "missing", "pine/job.yaml, line 7, file", "pine/loads.csv, row 1", "pine/loads.csv, row 2, dark",
        "pine/loads.csv, row 2, truck", "oak/job.yaml, line 3",
    ]  # fmt: skip


def test_two_jobs_with_one_code_are_refused(build: Build, tmp_path: Path) -> None:
    assert messages(tmp_path, [build(), build(name="oak")]) == [
        'oak/job.yaml, job: found the code "PINE-14", which pine/job.yaml has as well; expected a code that no other job has. '
        "Give each job a code of its own, and name each folder once."
    ]


def test_a_folder_without_a_job_file(tmp_path: Path) -> None:
    (tmp_path / "bare").mkdir()
    assert messages(tmp_path, [tmp_path / "bare", tmp_path / "gone"]) == [
        "bare: found no job.yaml; expected a job folder with a job.yaml. Write a job.yaml that names the job, its state and its tables.",
        "gone: found no such folder; expected a job folder. Check the path.",
    ]


def test_the_same_source_twice_would_count_loads_twice(build: Build, tmp_path: Path) -> None:
    folder = build("  loads: [loads.csv, loads.csv]\n", loads=f"{HEADINGS}\n1,T1,Mill A\n")
    assert messages(tmp_path, [folder]) == [
        "pine/job.yaml, line 7, file: found loads.csv a second time in loads; expected each source once. Take one of the two out."
    ]


def test_job_file_problems_are_placed(tmp_path: Path) -> None:
    folder = tmp_path / "pine"
    folder.mkdir()
    (folder / "job.yaml").write_text("job: A\nstate: Georgia\noperation_start: 2026-05-01\noperation_end: 2026-04-30\n")
    found = messages(tmp_path, [folder])
    assert found[0].startswith(
        'pine/job.yaml, line 2, state: found "Georgia"; expected a word of the list of state, such as US-AL.'
    )
    assert found[1] == (
        "pine/job.yaml, line 4, operation_end: found 2026-04-30, below operation_start 2026-05-01; "
        "expected at least operation_start. Correct one of the two."
    )
    (folder / "job.yaml").write_text("- a\n- b\n")
    assert messages(tmp_path, [folder]) == [
        "pine/job.yaml, line 1: found a list; expected a mapping (key: value). Check the indentation and the colons here."
    ]
    (folder / "job.yaml").write_text("title: x\n")
    assert messages(tmp_path, [folder]) == [
        "pine/job.yaml, line 1: found no job; expected the key job. Add job: with its value.",
        "pine/job.yaml, line 1: found no state; expected the key state. Add state: with its value.",
    ]


def test_rows_take_python_values_and_text() -> None:
    rows = {
        "job": [{"state": "US-GA", "sold_by_load": True}],
        "trucks": [{"truck": "T1", "kind": "tractor"}],
        "destinations": [{"destination": "Mill A"}],
        "legs": [{"destination": "Mill A", "leg": 1, "state": "US-GA", "miles": 12.5}],
        "loads": [
            {"ticket_number": 1, "truck": "T1", "destination": "Mill A", "load_date": dt.date(2026, 3, 2), "scaled_at": dt.time(14, 30), "dark": False, "gross_weight_lb": "84,320"},
        ],
        "tickets": [{"load": "1", "contents": ["species", "dealer"]}],
    }  # fmt: skip
    tables = record_from_rows(rows, job="X").tables
    assert tables["job"].select("job", "state", "sold_by_load").row(0) == ("X", "US-GA", True)
    assert tables["loads"].select("load_date", "scaled_at", "dark", "gross_weight_lb", "_file", "_row").row(0) == (
        dt.date(2026, 3, 2), dt.time(14, 30), False, 84320, "loads", 1,
    )  # fmt: skip
    assert tables["legs"]["miles"].to_list() == [12.5]
    assert tables["tickets"]["contents"].to_list() == [["species", "dealer"]]


@pytest.mark.parametrize(
    ("tables", "message"),
    [
        ({"truks": []}, 'rows, truks: found the table "truks"; expected a table of the record. Did you mean trucks?'),
        ({"trucks": [{"truck": "T", "kind": "tractor", "kinds": 1}]}, 'trucks, row 1: found the field "kinds"; expected a field of trucks. Did you mean kind?'),
        ({"trucks": [{"truck": "T", "kind": "tractor", "note": {"a": 1}}]}, "trucks, row 1, note: found a dict; expected a single value. Write one value."),
        ({"trucks": [{"truck": "T", "kind": "tractor", "registered_gross_lb": float("nan")}]}, 'trucks, row 1, registered_gross_lb: found "nan"; expected a whole number in lb. Correct the value, or leave it blank if it is not known.'),
        ({"trucks": [{"truck": "T"}]}, "trucks, row 1, kind: found a blank; expected kind of truck (a required field). Fill it in."),
    ],
)  # fmt: skip
def test_rows_refused(tables: dict[str, list[dict[str, object]]], message: str) -> None:
    with pytest.raises(UnusableInput) as caught:
        record_from_rows(tables)
    assert [str(p) for p in caught.value.problems] == [message]


CELLS = st.tuples(
    st.integers(1, 10**9),
    st.sampled_from(["T1", "T2"]),
    st.none() | st.integers(1, 250_000),
    st.none() | st.integers(10, 2500).map(lambda n: n / 10),
    st.none() | st.dates(dt.date(1990, 1, 1), dt.date(2100, 1, 1)),
    st.none() | st.times().map(lambda t: t.replace(microsecond=0)),
    st.none() | st.booleans(),
)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(CELLS, min_size=1, max_size=6))
def test_csv_and_workbook_of_the_same_rows_give_the_same_frame(tmp_path: Path, rows: list[tuple[object, ...]]) -> None:
    names = [
        "ticket_number",
        "truck",
        "gross_weight_lb",
        "overall_length_ft",
        "load_date",
        "scaled_at",
        "dark",
        "destination",
    ]
    folder = tmp_path / "both"
    folder.mkdir(exist_ok=True)
    (folder / "trucks.csv").write_text(TRUCKS)
    text = [["" if c is None else "yes" if c is True else "no" if c is False else str(c) for c in row] for row in rows]
    (folder / "loads.csv").write_text("\n".join(",".join(line) for line in [names, *([*t, "Mill A"] for t in text)]))
    save_workbook(folder / "loads.xlsx", {"Loads": [names, *([*row, "Mill A"] for row in rows)]})
    frames = []
    for file in ("loads.csv", "loads.xlsx"):
        (folder / "job.yaml").write_text(f"job: A\nstate: US-GA\ntables:\n  trucks: trucks.csv{LEGS}  loads: {file}\n")
        frames.append(read_jobs([folder]).tables["loads"].drop("_file", "_sheet"))
    assert frames[0].equals(frames[1])
    assert frames[0]["gross_weight_lb"].to_list() == [row[2] for row in rows]
    assert frames[0]["dark"].to_list() == [row[6] for row in rows]


@pytest.mark.slow
def test_a_million_loads(tmp_path: Path) -> None:
    """Reading is columnar: rows are not walked one by one, and none is lost."""
    folder = tmp_path / "big"
    folder.mkdir()
    (folder / "trucks.csv").write_text(TRUCKS)
    (folder / "job.yaml").write_text(f"job: A\nstate: US-GA\ntables:\n  trucks: trucks.csv{LEGS}{LOADS}")
    with (folder / "loads.csv").open("w") as file:
        file.write(f"{HEADINGS},gross_weight_lb\n")
        file.writelines(f"{i},T1,Mill A,{70000 + i % 20000}\n" for i in range(1_000_000))
    loads = read_jobs([folder]).tables["loads"]
    assert loads.height == 1_000_000
    # Fifty times the sum of 70,000 to 89,999: 20,000 x 79,999.5 x 50.
    assert loads["gross_weight_lb"].sum() == 79_999_500_000
