"""Sample plots of a map as rows of the record: their bank, their distance, and what the rules make of them.

The creek runs along y = 0, 20 ft wide, so that its left bank lies at y = 10 and its right at -10. Stream and plots are good
to 5 ft each, so that a distance from the bank is good to 10.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import polars as pl
import pytest
import shapely

from auditor.audit import check
from auditor.check.map_rows import Mapped
from auditor.check.tally import tables_of
from auditor.check.views.strips import strips
from auditor.record import read_jobs
from auditor.rules.reading import read_rules
from auditor.vocabulary.problems import UnusableInput
from tests.check.mapped_jobs import CREEK, STREAMS, make_job, read
from tests.check.test_map_features import BUFFER, drawn

UNIT = shapely.box(0, 70, 1000, 500)
NC = {"strips": {"edges_ft": [0, 10, 30, 50]}}
"""The strips of North Carolina's riparian buffer, in ft from the bank."""
PRISM = {
    "kind": "prism",
    "baf_ft2_per_ac": 10,
    "slope_corrected": "yes",
    "borderline_checked": "yes",
    "least_dbh_in": 4,
}


def job(
    folder: Path,
    plots: Sequence[tuple[float, float, Mapping[str, object]]],
    tables: Mapping[str, str] | None = None,
    streams: Sequence[tuple[Any, Mapping[str, object]]] = ((CREEK, {"name": "Creek"}),),
    **more: Any,
) -> Path:
    """A job with the creek, a unit 60 ft from its left bank, and plots at places in ft."""
    points = [(shapely.Point(x, y), {"name": f"P{n}", **said}) for n, (x, y, said) in enumerate(plots, start=1)]
    maps = {"streams": streams, "units": [(UNIT, {"name": "U1", "cut_on": "2026-07-30"})], "plots": points}
    return make_job(folder, maps, {"streams": STREAMS, **(tables or {})}, **more)


def plots_of(mapped: Mapped) -> dict[str, dict[str, Any]]:
    return {str(r["plot"]): r for r in mapped.record.tables["plots"].to_dicts()}


def notes_of(mapped: Mapped, about: str) -> list[str]:
    return [note for note in mapped.record.notes if about in note]


def strips_of(mapped: Mapped, definitions: Mapping[str, Any]) -> list[tuple[Any, ...]]:
    rows = strips(tables_of(mapped.record), definitions).filter(pl.col("plot_count") > 0)
    return rows.select("bank", "strip_from_ft", "strip_to_ft", "plot_count", "basal_area_ft2_per_ac").rows()


def test_a_plot_belongs_to_its_nearest_bank_with_its_distance_and_its_figures(tmp_path: Path) -> None:
    said = {**PRISM, "tree_count": 6, "canopy_pct": 70.0, "bare_soil_pct": 5.0, "taken_on": "2026-09-01"}
    mapped = read(job(tmp_path / "J", [(500, 30, said), (300, -47.5, said)]))
    found = plots_of(mapped)
    # 30 - 10 = 20 ft from the left bank; 47.5 - 10 = 37.5 from the right.
    assert [(p["bank"], p["distance_from_bank_ft"], p["distance_uncertainty_ft"]) for p in found.values()] == [
        ("Creek left", pytest.approx(20, abs=0.1), 10.0), ("Creek right", pytest.approx(37.5, abs=0.1), 10.0),
    ]  # fmt: skip
    one = found["P1"]
    assert one["along_ft"] == pytest.approx(500, abs=0.2)
    assert (one["kind"], one["baf_ft2_per_ac"], one["tree_count"], one["canopy_pct"]) == ("prism", 10, 6, 70)
    assert (one["bare_soil_pct"], one["slope_corrected"], str(one["taken_on"])) == (5, True, "2026-09-01")
    assert (one["_file"], one["_row"]) == ("plots.gpkg", 1)
    (note,) = notes_of(mapped, "by their nearest bank")
    assert note.endswith("Creek left 1, 20 ft from it; Creek right 1, 37.5 ft from it.")


@pytest.mark.parametrize(
    ("y", "strip"),
    [
        (30, (10, 30)),  # 20 ft, 10 to 30: exactly the strip
        (29.5, (None, None)),  # 9.5 to 29.5 lies in two strips
        (30.5, (None, None)),  # 10.5 to 30.5
        (50, (30, 50)),  # 30 to 50
        (70.5, (50.5, 70.5)),  # beyond the last strip: by its own distance
        (65, (None, None)),  # 45 to 65
    ],
)
def test_the_strip_is_that_in_which_the_distance_lies_for_certain(
    tmp_path: Path, y: float, strip: tuple[float | None, float | None]
) -> None:
    mapped = read(job(tmp_path / "J", [(500, y, {**PRISM, "tree_count": 6})]))
    # Whole figures, for a drawn place comes back within a hundredth of a foot.
    plots = mapped.record.tables["plots"].with_columns(pl.col("distance_from_bank_ft").round(1))
    rows = strips({**tables_of(mapped.record), "plots": plots}, NC).filter(pl.col("plot_count") > 0)
    assert rows.select("strip_from_ft", "strip_to_ft").row(0) == pytest.approx(strip)


def test_plots_count_together_where_the_rules_name_no_strips(tmp_path: Path) -> None:
    plots = [(x, 30.0, {**PRISM, "tree_count": n}) for x, n in ((200, 6), (500, 8))]
    # A prism of 10: 60 and 80 square feet an acre, 70 in the mean.
    assert strips_of(read(job(tmp_path / "J", plots)), {}) == [("Creek left", None, None, 2, pytest.approx(70))]


def test_a_strip_said_on_the_map_stands(tmp_path: Path) -> None:
    said = {**PRISM, "tree_count": 6, "strip_from_ft": 0.0, "strip_to_ft": 10.0}
    mapped = read(job(tmp_path / "J", [(500, 30, said)]))
    assert strips_of(mapped, NC) == [("Creek left", 0, 10, 1, pytest.approx(60))]
    # Drawn 20 ft from the bank, good to 10: 10 ft is still in it.
    assert notes_of(mapped, "the strip stands") == []
    far = read(job(tmp_path / "K", [(500, 31, said)]))
    assert notes_of(far, "the strip stands") == [
        "Plot P1 stands for the strip from 0 to 10 ft and is drawn 21 ft from the bank; the strip stands."
    ]


@pytest.mark.parametrize(("figure", "kind"), [("baf_ft2_per_ac", "prism"), ("plot_radius_ft", "fixed")])
def test_the_kind_shows_in_the_figure_that_only_it_has(tmp_path: Path, figure: str, kind: str) -> None:
    mapped = read(job(tmp_path / "J", [(500, 30, {figure: 20.0, "tree_count": 6})]))
    assert plots_of(mapped)["P1"]["kind"] == kind


def test_without_any_such_figure_the_kind_stays_blank(tmp_path: Path) -> None:
    mapped = read(
        job(tmp_path / "J", [(500, 30, {"tree_count": 6}), (600, 30, {"baf_ft2_per_ac": 10.0, "plot_radius_ft": 9.0})])
    )
    assert [p["kind"] for p in plots_of(mapped).values()] == [None, None]
    assert strips_of(mapped, {}) == [("Creek left", None, None, 2, None)]


@pytest.mark.parametrize(("y", "row"), [(209.9, True), (210.5, False)])
def test_a_plot_far_from_every_bank_is_told_and_not_judged(tmp_path: Path, y: float, row: bool) -> None:
    # 200 ft from the bank at y = 10, and just beyond.
    mapped = read(job(tmp_path / "J", [(500, y, {**PRISM, "tree_count": 6})]))
    assert ("P1" in plots_of(mapped)) is row
    told = ["Mapped plots farther than 200 ft from any bank near the harvest, not judged: P1."]
    assert notes_of(mapped, "farther than 200 ft") == ([] if row else told)


@pytest.mark.parametrize(("y", "row"), [(10.5, True), (9.5, False), (-9.5, False)])
def test_a_plot_so_near_the_stream_that_it_may_stand_on_the_other_side(tmp_path: Path, y: float, row: bool) -> None:
    # Line and plot are good to 10 ft together.
    mapped = read(job(tmp_path / "J", [(500, y, {**PRISM, "tree_count": 6})]))
    assert ("P1" in plots_of(mapped)) is row
    assert len(notes_of(mapped, "either of two banks")) == (not row)


@pytest.mark.parametrize(("y", "row"), [(39.5, True), (40.5, False)])
def test_a_plot_between_two_streams_whose_nearest_bank_is_in_doubt(tmp_path: Path, y: float, row: bool) -> None:
    # A second creek along y = 100, 20 ft wide too: its right bank lies at y = 90. At y = 40 the plot is 30 ft from the one
    # and 50 from the other; each is good to 10, so that both may be 40.
    two = [(CREEK, {"name": "Creek"}), (shapely.LineString([(0, 100), (999.9, 100)]), {"name": "Brook"})]
    tables = {"streams": STREAMS + "Brook,stream,perennial,20\n"}
    mapped = read(job(tmp_path / "J", [(500, y, {**PRISM, "tree_count": 6})], tables, two))
    assert ("P1" in plots_of(mapped)) is row
    told = ["Mapped plots that may belong to either of two banks, not judged: P1 (Creek left or Brook right)."]
    assert notes_of(mapped, "either of two banks") == ([] if row else told)


def test_a_plot_of_unknown_error_is_told_and_not_judged(tmp_path: Path) -> None:
    mapped = read(job(tmp_path / "J", [(500, 30, PRISM)], doubt_ft={"streams": 5, "units": 5}))
    assert plots_of(mapped) == {}
    assert notes_of(mapped, "nobody knows how far their place")[0].endswith("not judged: P1.")


def test_beside_a_stream_of_unknown_width_a_plot_has_a_bank_and_no_distance(tmp_path: Path) -> None:
    folder = job(tmp_path / "J", [(500, 30, {**PRISM, "tree_count": 6})], {"streams": STREAMS.replace(",20\n", ",\n")})
    mapped = read(folder)
    plot = plots_of(mapped)["P1"]
    assert (plot["bank"], plot["distance_from_bank_ft"], plot["distance_uncertainty_ft"]) == ("Creek left", None, None)
    assert notes_of(mapped, "no distance from the bank")
    assert strips_of(mapped, NC) == [("Creek left", None, None, 1, pytest.approx(60))]


def test_what_the_table_says_of_a_plot_stands_and_both_are_compared(tmp_path: Path) -> None:
    tables = {
        "banks": "bank,stream,side,harvested\nB1,Creek,left,yes\nB2,Creek,right,yes\n",
        "plots": "plot,bank,kind,baf_ft2_per_ac,tree_count,distance_from_bank_ft\n"
        "P1,B1,prism,10,6,\nP2,B2,prism,10,7,\nP3,B1,prism,10,5,12\nP4,B1,prism,10,5,\n",
    }
    said = {**PRISM, "tree_count": 8, "canopy_pct": 70.0}
    mapped = read(job(tmp_path / "J", [(500, 30, said), (600, 40, said), (700, 30, said), (500, 400, said)], tables))
    found = plots_of(mapped)
    # Counts stand, the crown cover is filled; the distance too, unless it was taped or the bank is another one.
    assert {n: (p["bank"], p["tree_count"], p["canopy_pct"]) for n, p in found.items()} == {
        "P1": ("B1", 6, 70), "P2": ("B2", 7, 70), "P3": ("B1", 5, 70), "P4": ("B1", 5, None),
    }  # fmt: skip
    assert [(p["distance_from_bank_ft"], p["distance_uncertainty_ft"]) for p in found.values()] == [
        (pytest.approx(20, abs=0.1), 10), (None, None), (12, None), (None, None),
    ]  # fmt: skip
    assert notes_of(mapped, "the table stands") == [
        "Plot P2: the table says bank B2, the map B1; the table stands.",
        "Plot P1: the table says tree_count 6 trees, the map 8 trees; the table stands.",
        "Plot P2: the table says tree_count 7 trees, the map 8 trees; the table stands.",
        "Plot P3: the table says tree_count 5 trees, the map 8 trees; the table stands.",
    ]
    # P4 is drawn far off, and its table says its bank.
    assert notes_of(mapped, "not judged: P4") == []


def test_units_of_attributes_are_converted_as_elsewhere(tmp_path: Path) -> None:
    folder = job(tmp_path / "J", [(500, 30, {"factor": 2.0, "r_m": None, "tree_count": 6})])
    text = (folder / "job.yaml").read_text(encoding="utf-8")
    columns = "columns: {baf_ft2_per_ac: {attribute: factor, unit: m2/ha}}"
    text = text.replace("holds: plots,", f"holds: plots, {columns},")
    (folder / "job.yaml").write_text(text, encoding="utf-8")
    # 1 m2/ha = 10.7639 ft2 / 2.47105 acres = 4.35600 ft2/acre.
    assert plots_of(read(folder))["P1"]["baf_ft2_per_ac"] == pytest.approx(8.712, abs=0.001)


def test_plots_outside_every_required_zone_are_told(tmp_path: Path) -> None:
    # A zone of 30 ft ends at y = 40. At y = 49 the plot is 9 ft outside, known to 10; at y = 51 it is 11 ft outside.
    folder = job(tmp_path / "J", [(300, 49, PRISM), (500, 51, PRISM), (700, 30, PRISM)])
    notes = drawn(folder, {"Creek left": 30}).notes
    assert [n.split(". ")[0] for n in notes if "outside every required zone" in n] == [
        "Sample plots drawn outside every required zone: P2"
    ]


def test_mapped_plots_are_held_against_the_rules(tmp_path: Path) -> None:
    # North Carolina asks for half of the trees of the strip from 10 to 30 ft: 4 of 10 is 40 percent.
    said = {"kind": "fixed", "plot_radius_ft": 5.0, "overstory_before_count": 10, "overstory_left_count": 4}
    folder = job(tmp_path / "J", [(500, 30, said)], {"streams": BUFFER})
    (report,) = check(read_jobs([folder]), read_rules(["US", "US-NC"])).jobs
    (finding,) = [f for f in report.findings if f.rule == "us-nc/streamside/outer-strip-trees"]
    assert [(i.subject, i.measured) for i in finding.items] == [("Creek left", 40)]
    assert finding.items[0].what.startswith("strip 10 to 30 ft from the bank")


def test_a_mapped_plot_in_two_strips_is_asked_for_its_strip(tmp_path: Path) -> None:
    said = {"kind": "fixed", "plot_radius_ft": 5.0, "overstory_before_count": 10, "overstory_left_count": 4}
    folder = job(tmp_path / "J", [(500, 35, said)], {"streams": BUFFER})
    (report,) = check(read_jobs([folder]), read_rules(["US", "US-NC"])).jobs
    assert not [f for f in report.findings if f.rule == "us-nc/streamside/outer-strip-trees"]
    assert "plots.strip_from_ft" in " ".join(m.fact for m in report.missing)


@pytest.mark.parametrize(
    ("method", "distance", "doubt", "strip"),
    [
        ("tape", "30", "", (10, 30)),  # taped, and exactly at the edge of the inner strip
        ("tape", "31", "", (30, 50)),
        ("tape", "31", "2", (None, None)),  # 29 to 33
        ("gps", "20", "", (None, None)),  # nobody says how far off
        ("gps", "20", "5", (10, 30)),
    ],
)
def test_a_distance_of_the_table_tells_the_strip_too(
    tmp_path: Path, method: str, distance: str, doubt: str, strip: tuple[float | None, float | None]
) -> None:
    tables = {
        "banks": f"bank,stream,side,harvested,method\nB1,Creek,left,yes,{method}\n",
        "plots": "plot,bank,kind,baf_ft2_per_ac,tree_count,distance_from_bank_ft,distance_uncertainty_ft\n"
        f"P7,B1,prism,10,6,{distance},{doubt}\n",
    }
    mapped = read(job(tmp_path / "J", [(500, 400, PRISM)], tables))
    assert [row[1:3] for row in strips_of(mapped, NC)] == [strip]


TALLY = "plot,line,dbh_in,tree_count\n"
FIXED = {"kind": "fixed", "plot_area_acres": 0.1, "tree_count": 6}


def test_trees_are_tallied_for_a_plot_that_only_the_map_knows(tmp_path: Path) -> None:
    mapped = read(job(tmp_path / "J", [(500, 15, FIXED)], {"tallies": f"{TALLY}P1,1,12,6\n"}))
    # 5 ft from the bank, doubt 10: no strip for certain, so that the plots of the bank count together; 6 trees of 12 in
    # on a tenth of an acre: 6 x pi / 4 / 0.1 = 15 pi = 47.1239
    assert strips_of(mapped, {}) == [("Creek left", None, None, 1, pytest.approx(47.1239, abs=1e-4))]
    assert not notes_of(mapped, "what is not judged")


def test_rows_may_name_a_water_a_bank_and_a_trail_of_the_map(tmp_path: Path) -> None:
    folder = make_job(
        tmp_path / "J",
        {"streams": [(CREEK, {"name": "Creek"})], "units": [(UNIT, {"name": "U1"})],
         "trails": [(shapely.LineString([(100, 30), (900, 30)]), {"name": "T1"})]},
        {"stumps": "bank,stump,distance_from_bank_ft\nCreek left,1,12\n", "ruts": "rut,segment,length_ft\nR1,T1,40\n",
         "water_readings": "stream,reading\nCreek,1\n"},
    )  # fmt: skip
    mapped = read(folder)
    assert mapped.record.tables["stumps"]["bank"].to_list() == ["Creek left"]
    assert "Creek left" in mapped.record.tables["banks"]["bank"].to_list()
    assert "T1" in mapped.record.tables["segments"]["segment"].to_list()
    assert not notes_of(mapped, "what is not judged")


def test_a_plot_of_neither_table_nor_map_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UnusableInput) as caught:
        read(job(tmp_path / "J", [(500, 15, FIXED)], {"tallies": f"{TALLY}P2,1,12,6\n"}))
    (problem,) = caught.value.problems
    assert str(problem).endswith(
        'J/tallies.csv, row 2, plot: found "P2"; expected a plot of the table plots. Add it to plots, or correct it here.'
    )


def test_the_tally_of_a_mapped_plot_that_is_not_judged_is_told(tmp_path: Path) -> None:
    # 300 ft from the creek: farther than its bank is looked for
    mapped = read(job(tmp_path / "J", [(500, 300, FIXED)], {"tallies": f"{TALLY}P1,1,12,6\n"}))
    assert strips_of(mapped, {}) == []
    assert notes_of(mapped, "what is not judged") == [
        "Rows of tallies name what the map shows but what is not judged, so that they count for nothing there: plot P1."
    ]


def test_the_map_of_one_job_answers_for_no_other(tmp_path: Path) -> None:
    first = job(tmp_path / "J", [(500, 15, FIXED)])
    second = job(tmp_path / "K", [], {"tallies": f"{TALLY}P1,1,12,6\n"})
    with pytest.raises(UnusableInput, match=r'K/tallies\.csv, row 2, plot: found "P1"'):
        read(first, second)
