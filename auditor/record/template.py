"""Writes the workbook a newcomer fills in, and the job.yaml beside it.

What a sheet holds follows from the vocabulary and from what the rules ask for; the reader of `workbook:` takes it back.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from auditor.record.examples import EXAMPLES
from auditor.record.form import FIRST_SHEET, LISTS_SHEET, MARK, MARK_HEADING, Asked, heading, typed
from auditor.record.mapping import key_column, known_fields
from auditor.vocabulary import TABLES
from auditor.vocabulary.model import Field, Table

AskedFields = Mapping[str, Mapping[str, Asked]]

FILLING_ORDER: Final = ("trucks", "trailers", "axles", "destinations", "legs", "documents", "loads")
"""Sheets that come first; the others follow in the order of the vocabulary."""
ALWAYS_SAID: Final = (
    "job", "title", "state", "county", "operation_start", "operation_end", "audit_date", "contractor",
)  # fmt: skip
"""What job.yaml asks of every job, whether or not a rule reads it."""
LAST_ROW: Final = 10_000
"""Drop-downs reach this far down; rows below are read all the same."""
_YES_NO: Final = ("yes", "no")
_RULES_NAMED: Final = 3
_FORMATS: Final = {"whole": "#,##0", "number": "General", "date": "yyyy-mm-dd", "time": "hh:mm"}
_FACE: Final = "Calibri"
_BOLD, _TITLE = Font(_FACE, bold=True), Font(_FACE, 14, bold=True)
_DARK, _GREY = Font(_FACE, bold=True, color="FFFFFF"), Font(_FACE, italic=True, color="808080")
_MUST: Final = PatternFill("solid", fgColor="1F4E3D")
_LAW: Final = PatternFill("solid", fgColor="8A4B08")
_ASKED: Final = PatternFill("solid", fgColor="44546A")
_OTHER: Final = PatternFill("solid", fgColor="7F7F7F")
_EXAMPLE_FILL: Final = PatternFill("solid", fgColor="F2F2F2")


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a sheet: its field and which rules ask for it.

    `either` names the fields of which each row fills just one; `extra` marks the block at the right.
    """

    field: Field
    asked: Asked
    must: bool
    either: tuple[str, ...] = ()
    extra: bool = False


def sheet_columns(asked: AskedFields, all_fields: bool = False) -> dict[str, list[Column]]:
    """The columns of each sheet, sheets in the order of filling.

    A sheet has what the rules ask for and what ties its rows to others: required fields, keys and references to other
    sheets. With `all_fields` every table has a sheet, and the fields that no rule asks for stand at the right. Papers
    stand last where there is no haul to fill in before them.
    """
    names = set(TABLES) - {"job"} if all_fields else _tables(asked)
    last = () if "loads" in names else ("documents",)
    ordered = [n for n in (*FILLING_ORDER, *TABLES) if n in names and n not in last] + [n for n in last if n in names]
    found: dict[str, list[Column]] = {}
    for table in (TABLES[n] for n in dict.fromkeys(ordered)):
        wanted = asked.get(table.name, {})
        main, extra = [], []
        # Of references that exclude each other only those count whose sheets are there.
        nowhere = {n for n in table.one_of if (f := table.field(n)) and f.refers_to and f.refers_to not in names}
        one_of = [n for n in table.one_of if n not in nowhere] or list(table.one_of)
        nowhere -= {*one_of}
        for field in (f for f in table.fields if f.name in known_fields(table)):
            must = field.required or one_of == [field.name]
            ties = must or field.name in (*table.key, *table.one_of) or field.refers_to in names
            if (ties and field.name not in nowhere) or field.name in wanted:
                either = tuple(one_of) if field.name in one_of and len(one_of) > 1 else ()
                main.append(Column(field, wanted.get(field.name, Asked()), must, either))
            elif all_fields:
                extra.append(Column(field, Asked(), False, extra=True))
        found[table.name] = main + extra
    return found


def _tables(asked: AskedFields) -> set[str]:
    """Tables that rules ask for, and those their required references lead to."""
    names = set(asked) - {"job"}
    while True:
        more = {f.refers_to for n in names for f in TABLES[n].fields if f.refers_to and f.required}
        if more <= names:
            return names
        names |= {n for n in more if n is not None}


def workbook_bytes(asked: AskedFields, folder: str, all_fields: bool = False) -> bytes:
    """The workbook as XLSX; `folder` is the job folder as the next command names it."""
    sheets = sheet_columns(asked, all_fields)
    book = Workbook()
    first = book.active
    first.title = FIRST_SHEET
    _fill_first_sheet(first, sheets, folder)
    lists = _Lists(sheets)
    for name, columns in sheets.items():
        _fill_table(book.create_sheet(name), TABLES[name], columns, lists, sheets)
    lists.write(book.create_sheet(LISTS_SHEET))
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


class _Lists:
    """The words of every drop-down, one column each on a hidden sheet: long lists do not fit into a cell's own rule."""

    def __init__(self, sheets: Mapping[str, Sequence[Column]]) -> None:
        self._names: dict[tuple[str, ...], str] = {}
        for table, columns in sheets.items():
            for column in columns:
                words = words_of(column.field)
                if words:
                    title = "yes or no" if words == _YES_NO else f"{table}.{column.field.name}"
                    self._names.setdefault(words, title)

    def formula(self, words: tuple[str, ...]) -> str:
        """The range that holds the words."""
        letter = get_column_letter(list(self._names).index(words) + 1)
        return f"{LISTS_SHEET}!${letter}$2:${letter}${len(words) + 1}"

    def write(self, sheet: Worksheet) -> None:
        """Write every list under the first field that uses it."""
        sheet.sheet_state = "hidden"
        for index, (words, name) in enumerate(self._names.items(), 1):
            for row, text in enumerate((name, *words), 1):
                sheet.cell(row, index, text).number_format = "@"


def words_of(field: Field) -> tuple[str, ...]:
    """The words of a field's drop-down; none where it has no closed list of single words."""
    return _YES_NO if field.kind == "yes_no" else field.classes if field.kind == "class" else ()


def _fill_table(
    sheet: Worksheet,
    table: Table,
    columns: Sequence[Column],
    lists: _Lists,
    sheets: Mapping[str, Sequence[Column]],
) -> None:
    _head(
        sheet, 1, MARK_HEADING, _OTHER, f'Holds the word "{MARK}" in the grey row, which is not read. Leave it blank.'
    )
    sheet.column_dimensions["A"].width = 10
    _example_cell(sheet, 1, MARK)
    shown = EXAMPLES.get(table.name, {})
    for index, column in enumerate(columns, 2):
        field = column.field
        fill = _MUST if column.must else _LAW if column.asked.by_law else _ASKED if not column.extra else _OTHER
        text = heading(field)
        _head(sheet, index, text, fill, note(column))
        _example_cell(sheet, index, typed(field, shown.get(field.name, "")))
        letter = get_column_letter(index)
        dimension = sheet.column_dimensions[letter]
        dimension.width = max(11.0, 0.62 * len(text) + 4, 1.1 * max(len(w) for w in (*words_of(field), "")) + 4)
        dimension.number_format = number_format(field)
        sheet.cell(2, index).number_format = number_format(field)
        if column.extra:
            dimension.outlineLevel, dimension.hidden = 1, True
        rule = _validation(field, lists, sheets)
        if rule is not None:
            rule.add(f"{letter}2:{letter}{LAST_ROW}")
            sheet.add_data_validation(rule)
    if any(c.extra for c in columns):
        sheet.column_dimensions[get_column_letter(len(columns) + 2)].collapsed = True
    sheet.row_dimensions[1].height = 45
    sheet.freeze_panes = "C2"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_title_rows = "1:1"


def _head(sheet: Worksheet, column: int, text: str, fill: PatternFill, said: str) -> None:
    cell = sheet.cell(1, column, text)
    cell.font, cell.fill = _DARK, fill
    cell.alignment = Alignment(wrap_text=True, vertical="center", horizontal="center")
    lines = sum(1 + len(line) // 46 for line in said.splitlines())
    cell.comment = Comment(said, "auditor", width=320, height=16 * lines + 12)


def _example_cell(sheet: Worksheet, column: int, value: object) -> None:
    cell = sheet.cell(2, column, value)
    cell.font, cell.fill = _GREY, _EXAMPLE_FILL


def number_format(field: Field) -> str:
    """How the cells of the field show; text and words stay as typed, so that 0123 keeps its zero."""
    return _FORMATS.get(field.kind, "@")


def note(column: Column) -> str:
    """What stands behind a heading: meaning, form, who asks for it, and its name in other files."""
    field = column.field
    lines = [_sentence(field.meaning), _form(field)]
    if column.must:
        lines.append("Must be filled in every row.")
    if column.either:
        lines.append(f"Fill in each row either {' or '.join(column.either)}, not both.")
    rules, law = column.asked.rules, column.asked.by_law
    if rules:
        named = list(dict.fromkeys([*law, *rules]))
        more = f" and {len(named) - _RULES_NAMED} more" if len(named) > _RULES_NAMED else ""
        lines.append(f"Asked for by {', '.join(named[:_RULES_NAMED])}{more}.")
        lines.append("The law demands this evidence." if law else "Usual evidence; the law does not name it.")
    elif column.extra:
        lines.append("No rule of these places asks for it.")
    else:
        lines.append("Ties the rows of the sheets together.")
    lines.append(f"Name in other files: {field.name}")
    return "\n".join(lines)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + "."


def _form(field: Field) -> str:
    """What a value looks like."""
    if field.refers_to:
        source = TABLES[field.refers_to]
        return f'As on the sheet "{source.name}", under "{heading(_key(source))}".'
    if field.kind in ("whole", "number"):
        kind = "Whole number" if field.kind == "whole" else "Number"
        ends = [None if end is None else f"{end:,g}" if end < 1e6 else f"{end:,.0f}" for end in (field.low, field.high)]
        span = f", {ends[0]} to {ends[1]}" if None not in ends else ""
        return f"{kind}{span}{f' {field.unit}' if field.unit else ''}."
    forms = {
        "yes_no": "yes or no; blank: not known.",
        "date": "A day such as 2026-03-02.",
        "time": "A time of day such as 14:30.",
        "class": f"One of {', '.join(field.classes)}.",
        "classes": f'Some of these, separated by ";": {", ".join(field.classes)}.',
    }
    return forms.get(field.kind, "Text.")


def _key(table: Table) -> Field:
    """The field whose column a reference lists."""
    field = table.field(key_column(table))
    assert field is not None
    return field


def _validation(field: Field, lists: _Lists, sheets: Mapping[str, Sequence[Column]]) -> DataValidation | None:
    """What a cell of the field accepts: a drop-down, or numbers between the plausible bounds."""
    words = words_of(field)
    if words:
        rule = DataValidation("list", formula1=lists.formula(words), allow_blank=True)
        return _refuses(rule, "Choose a word of the list, or leave the cell blank.")
    if field.refers_to is not None and field.refers_to in sheets:
        rule = DataValidation("list", formula1=_rows_of(TABLES[field.refers_to], sheets), allow_blank=True)
        return _refuses(rule, f"This is not yet on the sheet {field.refers_to}. Write it there too.", "warning")
    if field.kind in ("whole", "number") and field.low is not None and field.high is not None:
        kind = "whole" if field.kind == "whole" else "decimal"
        rule = DataValidation(
            kind, operator="between", formula1=f"{field.low:g}", formula2=f"{field.high:.10g}", allow_blank=True
        )
        return _refuses(rule, f"{_form(field)} Leave the cell blank if it is not known.")
    return None


def _refuses(rule: DataValidation, text: str, style: str = "stop") -> DataValidation:
    rule.showErrorMessage, rule.errorStyle, rule.errorTitle, rule.error = True, style, "Not accepted", text
    return rule


def _rows_of(table: Table, sheets: Mapping[str, Sequence[Column]]) -> str:
    """The filled cells of a key column below its example; whole columns, so that deleted rows break nothing."""
    names = [c.field.name for c in sheets[table.name]]
    letter = get_column_letter(names.index(_key(table).name) + 2)
    keys, marks = f"{table.name}!${letter}:${letter}", f'COUNTIF({table.name}!$A:$A,"{MARK}")'
    return f"OFFSET({table.name}!${letter}$1,1+{marks},0,MAX(1,COUNTA({keys})-1-{marks}),1)"


def _fill_first_sheet(sheet: Worksheet, sheets: Mapping[str, Sequence[Column]], folder: str) -> None:
    sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width = 22, 100
    sheet.cell(1, 1, "How to fill in this workbook").font = _TITLE
    parts = []
    if "loads" in sheets:
        parts.append("for the haul first the trucks and roads, then the loads")
    if "streams" in sheets:
        parts.append("for the site first the streams and their banks, then what was measured on them")
    steps = (
        f"Fill the sheets from left to right: {'; '.join(parts)}." if parts else "Fill the sheets.",
        "One row for each thing; your rows begin under the grey example, which is not read.",
        "Leave blank what you do not know. Blank is not no: the report names what is missing, and nothing is assumed.",
        "Units stand in the headings. Days as 2026-03-02, times as 14:30.",
        "Point at a heading to see what is meant, which rules ask for it, and whether the law demands it.",
        "Leave the names of sheets and headings as they are. You may change the order of columns and leave columns out.",
        f"Fill in job.yaml too, save both files, and run: auditor check {folder}",
    )
    for number, text in enumerate(steps, 1):
        sheet.cell(number + 1, 1, number).alignment = Alignment(horizontal="left", vertical="top")
        sheet.cell(number + 1, 2, text).alignment = Alignment(wrap_text=True, vertical="top")
    row = len(steps) + 3
    for fill, text in (
        (_MUST, "must be filled in every row"),
        (_LAW, "the law demands this evidence"),
        (_ASKED, "usual evidence, or ties the sheets together"),
    ):
        cell = sheet.cell(row, 1, "heading")
        cell.font, cell.fill = _DARK, fill
        sheet.cell(row, 2, text)
        row += 1
    if any(c.extra for columns in sheets.values() for c in columns):
        cell = sheet.cell(row, 1, "heading")
        cell.font, cell.fill = _DARK, _OTHER
        sheet.cell(row, 2, "no rule asks for it; folded away at the right of the sheet, opened with the + above it")
        row += 1
    row += 1
    sheet.cell(row, 1, "Sheet").font = sheet.cell(row, 2, "One row is").font = _BOLD
    for name in sheets:
        row += 1
        cell = sheet.cell(row, 1, name)
        cell.hyperlink, cell.style = f"#'{name}'!B3", "Hyperlink"
        sheet.cell(row, 2, TABLES[name].row)
    sheet.sheet_view.showGridLines = False
    sheet.page_setup.orientation = "landscape"
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


def job_file_text(code: str, state: str, asked: Mapping[str, Asked], workbook: str) -> str:
    """The job.yaml to fill in: what every job has and what the rules ask for, with its meaning; code and state filled in."""
    given = {"job": _scalar(code), "state": state}
    lines = ["# The job. Leave blank what is not known; `job` and `state` must be filled."]
    for field in TABLES["job"].fields:
        if field.name not in ALWAYS_SAID and field.name not in asked:
            continue
        said = [field.meaning, *_job_form(field)]
        if asked.get(field.name, Asked()).by_law:
            said.append("the law demands this evidence")
        lines.append(_line(field.name, given.get(field.name, ""), said))
    lines += [_line("workbook", workbook, ["one sheet for each table; its first sheet says how to fill it"]), *_MORE]
    return "\n".join(lines) + "\n"


_MORE: Final = (
    "# A table kept elsewhere, such as a mill's export, can stand beside the workbook:",
    "# tables:",
    "#   loads: mill_export.csv",
    "# A shortfall of a voluntary practice counts as a nonconformity only where the job has taken the topic as its own:",
    "# criteria: [streamside, crossings, trails]",
    "# Only of a list that is declared complete does an absent row prove anything; the days are its first and last:",
    "# declared_complete:",
    "#   - {table: notices, from: 2026-03-02, until: 2026-06-12}",
)
"""What a job.yaml may hold besides, as comments."""


def _job_form(field: Field) -> Iterable[str]:
    """What the value of a field of the job looks like, where its meaning leaves that open."""
    match field.kind:
        case "yes_no":
            yield "yes or no"
        case "date":
            yield "such as 2026-03-02"
        case "class" if field.name != "state":
            yield f"one of {', '.join(field.classes)}"
        case "classes":
            yield f"some of {', '.join(field.classes)}, separated by ;"
        case "number" | "whole":
            yield f"in {field.unit}"


def _line(key: str, value: str, said: Iterable[str]) -> str:
    return f"{f'{key}: {value}':<32} # {'; '.join(said)}"


def _scalar(text: str) -> str:
    """A YAML scalar that reads back as the text."""
    return text if re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_.-]*", text) else json.dumps(text, ensure_ascii=False)
