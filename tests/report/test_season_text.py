"""Season figures as a person reads them, and as files."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from rich.cells import cell_len
from rich.console import Console

from auditor.report.model import Limit
from auditor.report.season_model import (
    SEASON_SCHEMA,
    By,
    GroupFigures,
    LimitFigures,
    Margin,
    Room,
    Season,
    SetApart,
    Share,
    Spread,
    Target,
    season_schema,
)
from auditor.report.season_text import print_season, season_csv, season_json, season_text, write_season
from auditor.report.wording import NOTHING
from auditor.vocabulary.problems import UnusableInput

LONG = "Receiving yard of the sawmill beyond the river"
WHY_NOT = "4 loads with a known limit that another load shares; a margin takes 10"


def a_share(over: int = 3, loads: int = 60) -> Share:
    return Share(over_count=over, load_count=loads, share=0.05, low=0.010429, high=0.139213)


def a_group(by: By = "all", value: str | None = None, told: bool = True, loads: int = 60) -> GroupFigures:
    return GroupFigures(
        by=by, value=value, load_count=loads, few_loads=not told, unconfirmed_count=0,
        over_limit=a_share(loads=loads), over_tolerated=a_share(1, loads),
        gross=Spread(
            load_count=loads, mean_lb=79_120, sd_lb=1_240, least_lb=74_000, q05_lb=76_900 if told else None, q25_lb=78_300,
            median_lb=79_200, q75_lb=80_010, q95_lb=81_200 if told else None, greatest_lb=82_460,
        ),
        margin=Margin(
            scatter_load_count=loads, scatter_sd_lb=1_240, observed_lb=2_150 if told else None,
            normal_lb=2_072 if told else None, used_lb=2_150 if told else None, observed_is_furthest=False,
            why_not="" if told else WHY_NOT,
        ),
        targets=[
            Target(
                limit_lb=80_000, load_count=loads, over_count=3, mean_lb=79_120, observed_lb=77_850 if told else None,
                normal_lb=77_928 if told else None, used_lb=77_850 if told else None,
            )
        ],
        room=Room(
            inside_count=57, under_limit_lb=64_800, under_limit_short_tons=32.4, below_target_count=12 if told else None,
            under_target_lb=9_300 if told else None, under_target_short_tons=4.65 if told else None,
        ),
    )  # fmt: skip


def a_limit(note: Any = "limit unconfirmed", tolerated_lb: float | None = 84_000) -> LimitFigures:
    return LimitFigures(
        limit=Limit(
            key="us-ga/weight/gross_limit_lb/base", means="gross weight", value=80_000, unit="lb", form="limit", title=None,
            instrument="An act", at="(a)", seen="text", verified="read", checked=None, in_force_from=None, in_force_until=None,
        ),
        limit_lb=80_000, tolerated_lb=tolerated_lb, over_limit=a_share(), over_tolerated=a_share(1), note=note,
    )  # fmt: skip


def a_season(**parts: Any) -> Season:
    apart = SetApart(
        reason="limit not one number", load_count=7, over_any_way=2, inside_any_way=1,
        left_open_by=["rule us-ga/weight/posted-bridge (7 loads)"], sample_tickets=["A1", "A2", "A3", "A4", "A5"],
    )  # fmt: skip
    figures = [
        a_group(), a_group("truck", "T1"), a_group("truck", "T2", told=False, loads=4), a_group("driver"),
        a_group("product", "tree_length"), a_group("destination", LONG),
    ]  # fmt: skip
    made: dict[str, Any] = {
        "schema_name": SEASON_SCHEMA, "engine_version": "0", "jobs": ["PINE-14"], "contractors": ["C-04"],
        "first_load": "2026-03-02", "last_load": "2026-05-15", "load_count": 67, "share_percent": 5,
        "confidence_percent": 95, "least_loads": 10, "grouped_by": ["truck", "driver", "product", "destination"],
        "rule_files": {"us-ga/weight": "0" * 64}, "limits": [a_limit()], "set_apart": [apart], "figures": figures,
        "cautions": ["Gross weight alone."],
    }  # fmt: skip
    return Season.model_validate(made | parts)


def printed(season: Season, width: int = 80) -> str:
    out = io.StringIO()
    print_season(season, Console(file=out, width=width))
    return out.getvalue()


@pytest.mark.parametrize("width", [40, 80, 100, 240])
def test_no_line_is_wider_than_the_page(width: int) -> None:
    text = printed(a_season(), width)
    assert max(cell_len(line) for line in text.splitlines()) <= min(width, 100)
    assert "\x1b" not in text
    assert all(line == line.rstrip() for line in text.splitlines())


def test_the_order_is_that_of_a_person_in_a_hurry() -> None:
    text = printed(a_season())
    heads = [
        "LOADS OVER THEIR LIMIT", "COUNTED APART", "GROSS WEIGHTS, LB", "TARGET GROSS FOR 5 PERCENT OVER, LB",
        "ROOM LEFT BY LOADS THAT WERE INSIDE", "HOW TO READ THIS",
    ]  # fmt: skip
    places = [text.index(f"\n{head}\n") for head in heads]
    assert places == sorted(places)


def test_shares_are_said_with_their_interval() -> None:
    text = " ".join(printed(a_season()).split())
    assert "Over the lowest gross limit of their way: 3 of 60 loads, 5.0 percent; for loads like these somewhere from 1.0 to 13.9 percent (95 percent confidence)." in text  # fmt: skip
    assert "80,000 60 3 5.0 % 1.0 to 13.9 % 84,000 1 gross weight; An act, (a) (text read); limit unconfirmed" in text


@pytest.mark.parametrize(("tolerated", "said"), [(80_000, "none"), (None, ""), (84_000, "84,000")])
def test_a_tolerated_limit_is_shown_where_there_is_one(tolerated: float | None, said: str) -> None:
    text = printed(a_season(limits=[a_limit("", tolerated)]))
    (line,) = [row for row in text.splitlines() if row.startswith("  80,000")]
    assert line.split("%")[-1].split() == [*said.split(), "1"]


def test_what_is_counted_apart_is_said() -> None:
    text = " ".join(printed(a_season()).split())
    assert "limit not one number: 7 loads, 2 of them over it whatever it is, 1 inside (tickets A1, A2, A3, A4, A5 and 2 more)" in text  # fmt: skip
    assert "left open by rule us-ga/weight/posted-bridge (7 loads)" in text


def test_few_loads_are_said_and_get_no_number() -> None:
    text = printed(a_season())
    assert "Fewer than 10 loads, of which little can be told: truck T2." in text
    targets = text[text.index("TARGET GROSS") : text.index("ROOM LEFT")]
    (line,) = [row for row in targets.splitlines() if row.startswith("  T2")]
    assert line.split() == ["T2", "80,000", "4", "3", "79,120", "1,240", NOTHING, NOTHING]
    assert f"truck T2: {WHY_NOT}" in " ".join(targets.split())


def test_a_table_without_a_row_is_said_and_not_drawn() -> None:
    none = a_group(told=False).model_copy(update={
        "targets": [],
        "room": Room(inside_count=0, under_limit_lb=0, under_limit_short_tons=0, below_target_count=None, under_target_lb=None,
                     under_target_short_tons=None),
    })  # fmt: skip
    apart = a_season().set_apart[0].model_copy(update={"over_any_way": 1_200, "inside_any_way": 0})
    text = " ".join(printed(a_season(figures=[none], set_apart=[apart])).split())
    assert f"TARGET GROSS FOR 5 PERCENT OVER, LB Cannot be told: - all loads: {WHY_NOT} ROOM LEFT" in text
    assert "No load was shown inside a limit that is one number; no room can be told. HOW TO READ" in text
    assert "1,200 of them over it whatever it is, none inside" in text


def test_names_are_said_as_people_do() -> None:
    text = printed(a_season())
    assert "  tree length " in text
    assert f"  {LONG}\n" in text
    assert "  (blank) " in text


def test_without_a_known_limit_no_share_is_told() -> None:
    none = a_group().model_copy(
        update={"over_limit": Share(over_count=0, load_count=0, share=None, low=None, high=None)}
    )
    text = " ".join(printed(a_season(figures=[none], limits=[])).split())
    assert "No load has both a weight and a limit that is one number; no share can be told." in text
    assert "0 of 0" not in text
    empty = " ".join(printed(a_season(figures=[], limits=[], set_apart=[], load_count=0)).split())
    assert "C-04; 0 loads The record holds no loads; nothing can be told." in empty
    assert "TARGET" not in empty
    assert season_csv(a_season(figures=[])).startswith(b"row,by,value,load_count,")


def test_nothing_is_called_safe_or_legal() -> None:
    assert not {"safe", "legal", "lawful"} & set(season_text(a_season(), 80).lower().replace(".", " ").split())


def test_control_characters_do_not_reach_the_screen() -> None:
    season = a_season(figures=[a_group(), a_group("truck", "T\x1b[31m1\n2")], jobs=["PINE\x07"])
    assert "\x1b" not in printed(season)
    assert "\x07" not in printed(season)


def test_json_is_canonical_and_fits_its_schema() -> None:
    data = season_json(a_season())
    assert data == season_json(Season.model_validate_json(data))
    read = json.loads(data)
    jsonschema.validate(read, season_schema())
    assert list(read) == sorted(read)
    assert b'"limit_lb": 80000,' in data
    assert season_schema()["title"] == SEASON_SCHEMA


def test_csv_has_a_row_for_each_group_and_each_limit_it_drove_under() -> None:
    rows = list(csv.DictReader(io.StringIO(season_csv(a_season()).decode("utf-8"))))
    assert [(r["row"], r["by"], r["value"]) for r in rows[:6]] == [
        ("group", "all", ""), ("limit", "all", ""), ("group", "truck", "T1"), ("limit", "truck", "T1"),
        ("group", "truck", "T2"), ("limit", "truck", "T2"),
    ]  # fmt: skip
    group, limit = rows[2], rows[3]
    assert (group["over_limit_over_count"], group["gross_mean_lb"], group["under_limit_lb"]) == ("3", "79120", "64800")
    assert (group["limit_lb"], group["target_used_lb"]) == ("", "")
    assert (limit["limit_lb"], limit["load_count"], limit["target_used_lb"]) == ("80000.0", "60", "77850")
    assert rows[4]["margin_used_lb"] == "" and rows[4]["few_loads"] == "yes"


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@A1"])
def test_csv_hands_a_spreadsheet_no_formula(name: str) -> None:
    rows = list(csv.DictReader(io.StringIO(season_csv(a_season(figures=[a_group("truck", name)])).decode("utf-8"))))
    assert rows[0]["value"] == f"'{name}"


def test_files_go_by_their_extension(tmp_path: Path) -> None:
    season = a_season()
    for name, content in (("a.csv", season_csv(season)), ("a.JSON", season_json(season))):
        write_season(season, tmp_path / name)
        assert (tmp_path / name).read_bytes() == content
    for path, found in ((tmp_path / "a.pdf", "found .pdf"), (tmp_path / "none" / "a.csv", "no folder of that name")):
        with pytest.raises(UnusableInput, match=found):
            write_season(season, path)
