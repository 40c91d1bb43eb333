"""Season figures on a terminal or in a pipe, as canonical JSON and as CSV."""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from auditor.report import wording as say
from auditor.report.atomic import write_whole
from auditor.report.json_text import model_json
from auditor.report.season_model import GroupFigures, LimitFigures, Margin, Room, Season, Share, Spread
from auditor.report.terminal import WIDEST
from auditor.vocabulary.problems import Problem, UnusableInput, system_reason

_STRONG, _PLAIN = "bold", ""
_NAME = 14
_SPREAD = ("mean_lb", "sd_lb", "q05_lb", "q25_lb", "median_lb", "q75_lb", "q95_lb", "greatest_lb")
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
_MOST_TICKETS = 5
_CSV_COLUMNS = (
    "row", "by", "value", "load_count", "few_loads", "unconfirmed_count",
    *(f"over_limit_{name}" for name in Share.model_fields),
    *(f"over_tolerated_{name}" for name in Share.model_fields),
    *(f"gross_{name}" for name in Spread.model_fields),
    *(f"margin_{name}" for name in Margin.model_fields),
    *Room.model_fields,
    "limit_lb", "target_observed_lb", "target_normal_lb", "target_used_lb",
)  # fmt: skip


@dataclass
class _Page:
    """Lines no wider than the page, each with the style it has where colours are shown."""

    columns: int
    lines: list[tuple[str, str]] = field(default_factory=list)

    def heading(self, text: str) -> None:
        """The heading of a section, after an empty line."""
        self.lines.append(("", _PLAIN))
        self.put(text.upper(), style="bold underline")

    def put(self, text: str, first: str = "", style: str = _PLAIN) -> None:
        """A paragraph that begins after `first`; further lines stand as far in."""
        rest = " " * len(first)
        lines = textwrap.wrap(
            say.clean(text), self.columns, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
        )
        self.lines += [(line, style) for line in lines]

    def row(self, name: str, cells: Sequence[str], widths: Sequence[int], style: str = _PLAIN) -> None:
        """A line of a table: a name, then cells to the right; a long name has the line to itself."""
        name = f"  {say.clean(name)}"
        numbers = "".join(cell.rjust(width) for cell, width in zip(cells, widths, strict=True))
        if max(cell_len(name) + 1, _NAME) + len(numbers) > self.columns or cell_len(name) >= _NAME:
            self.put(name.strip(), "  ", style)
            name = ""
        line = name + " " * (_NAME - cell_len(name)) + numbers
        if len(line) <= self.columns:
            self.lines.append((line.rstrip(), style))
        else:
            self.put(", ".join(c for c in cells if c), "    ", style)


def print_season(season: Season, console: Console) -> None:
    """Print season figures, at most 100 columns wide; plain lines where the console is a pipe or file."""
    for line, style in _lines(season, min(console.width, WIDEST)):
        printable = line.encode(console.encoding, "replace").decode(console.encoding)
        console.print(Text(printable, style=style), soft_wrap=True)


def season_text(season: Season, columns: int) -> str:
    """The same as plain text of at most `columns` columns."""
    return "".join(f"{line}\n" for line, _ in _lines(season, columns))


def season_json(season: Season) -> bytes:
    """Season figures in the one form of bytes that reports have."""
    return model_json(season, "season")


def _lines(season: Season, columns: int) -> list[tuple[str, str]]:
    page = _Page(columns)
    jobs = season.jobs[0] if len(season.jobs) == 1 else say.count(len(season.jobs), "job")
    page.put(f"Season figures: {jobs}", style=_STRONG)
    dates = f", {say.span(season.first_load, season.last_load)}" if season.load_count else ""
    who = f"{', '.join(season.contractors)}; " if season.contractors else ""
    page.put(f"{who}{say.count(season.load_count, 'load')}{dates}")
    if season.figures:
        for section in (_over, _apart, _spread, _targets, _room):
            section(page, season)
    else:
        page.put("The record holds no loads; nothing can be told.")
    page.heading("How to read this")
    for caution in season.cautions:
        page.put(caution, "  - ")
    return page.lines


def _over(page: _Page, season: Season) -> None:
    page.heading("Loads over their limit")
    whole = season.figures[0]
    if not whole.over_limit.load_count:
        page.put("No load has both a weight and a limit that is one number; no share can be told.", "  ")
        return
    page.put(f"Over the lowest gross limit of their way: {_sentence(whole.over_limit, season)}.", "  ")
    page.put(f"Over the tolerated limit: {_sentence(whole.over_tolerated, season)}.", "  ")
    if whole.unconfirmed_count:
        page.put(
            f"{say.count(whole.unconfirmed_count, 'load')} of these rest on a limit that no one has confirmed.", "  "
        )
    widths = (7, 6, 10, 15, 12, 9)
    page.row("limit", ("loads", "over", "share", "interval", "tolerated", "over it"), widths, _STRONG)
    for one in season.limits:
        tolerated = "" if one.tolerated_lb is None else say.number(one.tolerated_lb)
        if one.tolerated_lb == one.limit_lb:
            tolerated = "none"
        over = f"{one.over_tolerated.over_count:,}"
        page.row(say.number(one.limit_lb), (*_share(one.over_limit), tolerated, over), widths)
        page.put(_source(one), " " * 6)
    groups = [f for f in season.figures[1:] if f.over_limit.load_count]
    if groups:
        page.row("", ("loads", "over", "share", "interval"), widths[:4], _STRONG)
    for by, figures in _by(groups):
        page.put(f"by {by}", "  ", _STRONG)
        for group in figures:
            page.row(_name(group), _share(group.over_limit), widths[:4])
    few = [_who(f) for f in season.figures if f.few_loads]
    if few:
        page.put(f"Fewer than {season.least_loads} loads, of which little can be told: {', '.join(few)}.", "  ")


def _share(share: Share) -> tuple[str, str, str, str]:
    return (f"{share.load_count:,}", f"{share.over_count:,}", _percent(share.share), _interval(share))


def _sentence(share: Share, season: Season) -> str:
    if not share.load_count:
        return "cannot be told"
    sure = f"{season.confidence_percent:g} percent confidence"
    return (
        f"{share.over_count:,} of {say.count(share.load_count, 'load')}, {_percent(share.share)}ercent"
        f"; for loads like these somewhere from {_interval(share)}ercent ({sure})"
    ).replace("%ercent", "percent")


def _percent(share: float | None) -> str:
    return say.NOTHING if share is None else f"{share * 100:.1f} %"


def _interval(share: Share) -> str:
    if share.low is None or share.high is None:
        return say.NOTHING
    return f"{share.low * 100:.1f} to {share.high * 100:.1f} %"


def _source(one: LimitFigures) -> str:
    title = f"{one.limit.means}: {one.limit.title}" if one.limit.title else one.limit.means
    said = say.verified(one.limit.verified) in one.note
    return f"{title}; {say.cited(one.limit)}" + (f"; {one.note}" if one.note and not said else "")


def _apart(page: _Page, season: Season) -> None:
    if not season.set_apart:
        return
    page.heading("Counted apart")
    for one in season.set_apart:
        text = f"{one.reason}: {say.count(one.load_count, 'load')}"
        if one.over_any_way or one.inside_any_way:
            text += f", {_many(one.over_any_way)} of them over it whatever it is, {_many(one.inside_any_way)} inside"
        text += f" (tickets {say.listed(one.sample_tickets, _MOST_TICKETS, '')}"
        more = one.load_count - len(one.sample_tickets)
        page.put(text + (f" and {more:,} more)" if more > 0 else ")"), "  - ")
        if one.left_open_by:
            page.put(f"left open by {'; '.join(one.left_open_by)}", "    ")


def _many(count: int) -> str:
    return f"{count:,}" if count else "none"


def _spread(page: _Page, season: Season) -> None:
    page.heading("Gross weights, lb")
    widths = (5, 8, 8, *[7] * 6)
    page.row("", ("loads", "mean", "sd", "5th", "25th", "50th", "75th", "95th", "most"), widths, _STRONG)
    for by, figures in _by(season.figures):
        if by != "all":
            page.put(f"by {by}", "  ", _STRONG)
        for one in figures:
            cells = [_pounds(getattr(one.gross, name)) for name in _SPREAD]
            page.row(_name(one), (f"{one.gross.load_count:,}", *cells), widths)
    page.put(f"sd: standard deviation; 5th to 95th: percentiles; {say.NOTHING}: too few loads to tell.", "  ")


def _targets(page: _Page, season: Season) -> None:
    page.heading(f"Target gross for {season.share_percent:g} percent over, lb")
    if any(one.targets for one in season.figures):
        _target_table(page, season)
    reasons: dict[str, list[str]] = {}
    for one in season.figures:
        if one.margin.why_not:
            reasons.setdefault(one.margin.why_not, []).append(_who(one))
    furthest = [_who(one) for one in season.figures if one.margin.observed_is_furthest]
    if furthest:
        page.put(f"observed is the one load that strayed furthest: {', '.join(furthest)}.", "  ")
    if reasons:
        page.put("Cannot be told:", "  ")
    for why, who in reasons.items():
        page.put(f"{', '.join(who)}: {why}", "  - ")


def _target_table(page: _Page, season: Season) -> None:
    page.put(
        "The mean gross to load to, so that by your own scatter no more than "
        f"{season.share_percent:g} percent of loads go over the limit: the limit less a margin. observed: the margin "
        "that your loads needed as they strayed from their mean. normal: the margin if they strayed as a normal "
        "distribution does. The lower target is the cautious one. Where observed lies far under normal, single loads "
        "strayed far; look at those before you load all others lighter.",
        "  ",
    )
    widths = (9, 7, 6, 9, 9, 10, 9)
    page.row("", ("limit", "loads", "over", "mean", "scatter", "observed", "normal"), widths, _STRONG)
    for by, figures in _by([one for one in season.figures if one.targets]):
        if by != "all":
            page.put(f"by {by}", "  ", _STRONG)
        for one in figures:
            for place, target in enumerate(one.targets):
                cells = (say.number(target.limit_lb), f"{target.load_count:,}", f"{target.over_count:,}", _pounds(target.mean_lb),
                         _pounds(one.margin.scatter_sd_lb), _pounds(target.observed_lb), _pounds(target.normal_lb))  # fmt: skip
                page.row("" if place else _name(one), cells, widths)
    page.put("scatter: standard deviation about the mean of the loads under one limit.", "  ")


def _room(page: _Page, season: Season) -> None:
    page.heading("Room left by loads that were inside")
    if not any(one.room.inside_count for one in season.figures):
        page.put("No load was shown inside a limit that is one number; no room can be told.", "  ")
        return
    widths = (7, 10, 8, 8, 8, 10, 8)
    page.row("", ("inside", "lb under", "tons", "tons a", "below", "lb under", "tons"), widths, _STRONG)
    page.row("", ("loads", "limit", "", "load", "target", "target", ""), widths, _STRONG)
    for by, figures in _by(season.figures):
        if by != "all":
            page.put(f"by {by}", "  ", _STRONG)
        for one in figures:
            room = one.room
            each = room.under_limit_short_tons / room.inside_count if room.inside_count else None
            cells = (f"{room.inside_count:,}", f"{room.under_limit_lb:,}", _tons(room.under_limit_short_tons), _tons(each, 2),
                     say.number(room.below_target_count), _pounds(room.under_target_lb), _tons(room.under_target_short_tons))  # fmt: skip
            page.row(_name(one), cells, widths)
    page.put("tons: short tons of 2,000 lb. target: the lower of the two above.", "  ")


def _by(figures: Sequence[GroupFigures]) -> Iterator[tuple[str, list[GroupFigures]]]:
    groups: dict[str, list[GroupFigures]] = {}
    for one in figures:
        groups.setdefault(one.by, []).append(one)
    yield from groups.items()


def _name(one: GroupFigures) -> str:
    if one.by == "all":
        return "all loads"
    return "(blank)" if one.value is None else one.value.replace("_", " ") if one.by == "product" else one.value


def _who(one: GroupFigures) -> str:
    return _name(one) if one.by == "all" else f"{one.by} {_name(one)}"


def _pounds(value: int | None) -> str:
    return say.NOTHING if value is None else f"{value:,}"


def _tons(value: float | None, places: int = 1) -> str:
    return say.NOTHING if value is None else f"{value:,.{places}f}"


def season_csv(season: Season) -> bytes:
    """Season figures as CSV: a row "group" for each group, and below it a row "limit" for each limit it drove under."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, _CSV_COLUMNS, lineterminator="\r\n")
    writer.writeheader()
    for one in season.figures:
        writer.writerows(_csv_rows(one))
    return out.getvalue().encode("utf-8")


def _csv_rows(one: GroupFigures) -> Iterator[dict[str, object]]:
    value = one.value or ""
    # A spreadsheet would take such a text for a formula.
    head = {"by": one.by, "value": f"'{value}" if value.startswith(_FORMULA_STARTS) else value}
    yield {
        "row": "group", **head, "load_count": one.load_count, "few_loads": "yes" if one.few_loads else "no",
        "unconfirmed_count": one.unconfirmed_count,
        **{f"over_limit_{k}": v for k, v in one.over_limit.model_dump().items()},
        **{f"over_tolerated_{k}": v for k, v in one.over_tolerated.model_dump().items()},
        **{f"gross_{k}": v for k, v in one.gross.model_dump().items()},
        **{f"margin_{k}": v for k, v in one.margin.model_dump().items()},
        **one.room.model_dump(),
    }  # fmt: skip
    for target in one.targets:
        yield {
            "row": "limit", **head, "load_count": target.load_count, "limit_lb": target.limit_lb,
            "over_limit_over_count": target.over_count, "gross_mean_lb": target.mean_lb,
            "target_observed_lb": target.observed_lb, "target_normal_lb": target.normal_lb,
            "target_used_lb": target.used_lb,
        }  # fmt: skip


def write_season(season: Season, path: Path) -> None:
    """Write season figures as CSV or JSON, as the extension of `path` says; whole or not at all.

    Raises UnusableInput where the extension is unknown, the folder is missing or the file cannot be written.
    """
    make = _FORMS.get(path.suffix.lower())
    if make is None:
        raise _unusable(path, path.suffix or "no extension", "one of .csv, .json", "Name the file with one of these.")
    if not path.parent.is_dir():
        raise _unusable(path, "no folder of that name", f"the folder {path.parent}", "Make it or name another.")
    content = make(season)
    try:
        write_whole(path, content)
    except OSError as error:
        found = system_reason(error)
        raise _unusable(path, found, "a file that can be written", "Free it or name another.") from error


def _unusable(path: Path, found: str, expected: str, todo: str) -> UnusableInput:
    return UnusableInput([Problem(str(path), "", "", found, expected, todo)])


_FORMS: dict[str, Callable[[Season], bytes]] = {".csv": season_csv, ".json": season_json}
