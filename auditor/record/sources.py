"""Opens the files of a job: paths that stay inside the job folder, and CSV files read as text."""

from __future__ import annotations

import csv
import io
from pathlib import Path, PurePosixPath

import numpy as np
import numpy.typing as npt
import polars as pl

from auditor.record.raw import Place, Sheet
from auditor.vocabulary import nearest
from auditor.vocabulary.problems import Problem, UnusableInput, system_reason

SEPARATORS = (",", ";", "\t")
STRIPPED = pl.all().fill_null("").str.strip_chars()
_NEWLINE, _QUOTE = 10, 34


def file_bytes(folder: Path, relative: str, where: Place) -> bytes:
    """The content of a file that must lie inside the job folder, also after symlinks are followed.

    `where` names the line of job.yaml that asks for the file. Raises UnusableInput.
    """
    kind = f'"{relative}"'
    if not relative or "\0" in relative:
        raise where.refuse(None, "file", kind, "a path inside the job folder", "Name a file of the job folder.")
    pure = PurePosixPath(relative)
    outside = pure.is_absolute() or ".." in pure.parts or "\\" in relative or ":" in relative.split("/")[0]
    try:
        path = (folder / relative).resolve()
        if outside or not path.is_relative_to(folder.resolve()):
            todo = 'Put the file into the job folder and name it from there, with "/" between folders.'
            raise where.refuse(None, "file", kind, "a path inside the job folder", todo)
        if not path.is_file():
            names = sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())
            like = nearest(relative, names)
            todo = f"Did you mean {like[0]}?" if like else "Put the file there or take the line out."
            raise where.refuse(None, "file", kind, "a file that exists", todo)
        return path.read_bytes()
    except (OSError, RuntimeError) as error:
        reason = system_reason(error) if isinstance(error, OSError) else "it leads in a circle"
        raise where.refuse(
            None, "file", f"{kind} that cannot be opened ({reason})", "a readable file", "Check the file."
        ) from None


def read_csv(data: bytes, place: Place, heading_row: int = 1, encoding: str | None = None) -> Sheet:
    """Read a CSV file as text. The separator is the one found most in the heading row.

    Blank rows and trailing blank columns are dropped. Raises UnusableInput for text that is not UTF-8 when no
    `encoding` is given, ragged rows, and quotation marks that do not close.
    """
    content = _utf8(data, place, encoding).replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if content and not content.endswith(b"\n"):
        content += b"\n"
    lines = _Records(content, place)
    if heading_row > lines.count:
        raise place.refuse(
            heading_row, "", f"a file of {lines.count} rows", "the heading row", "Check the file and heading_row."
        )
    heading = lines.text(heading_row - 1)
    separator = max(SEPARATORS, key=heading.count)
    try:
        headings = next(csv.reader([heading], delimiter=separator), [])
    except csv.Error:
        todo = "Check whether this is a CSV file and whether heading_row is right."
        raise place.refuse(heading_row, "", "text that is no row of headings", "the headings", todo) from None
    body, numbers = lines.body(heading_row, separator, len(headings))
    try:
        frame = _parse(body, separator, max(len(headings), 1))
    except pl.exceptions.PolarsError:
        frame = pl.DataFrame()
    if frame.height != len(numbers):
        todo = "Save the file again as CSV from the spreadsheet."
        raise place.refuse(None, "", "rows that cannot be told apart", "one row on each line", todo)
    return trim(headings, frame, pl.Series("_row", list(numbers), dtype=pl.UInt32))


def first_rows(data: bytes, place: Place, encoding: str | None, most: int = 20) -> list[list[str]]:
    """The first rows of a CSV file, to look for the headings where they were not expected."""
    text = _utf8(data[:200_000], place, encoding, whole=False).decode("utf-8", "replace")
    return [[v.strip(' "') for v in line.split(max(SEPARATORS, key=line.count))] for line in text.splitlines()[:most]]


def trim(headings: list[str], frame: pl.DataFrame, rows: pl.Series, merged: frozenset[int] = frozenset()) -> Sheet:
    """Drop rows without any text and trailing columns without heading and text; strip the headings.

    The cells of the frame are stripped already, see `STRIPPED`.
    """
    # A column without a blank, such as the key, shows at once that no row is.
    if frame.width and not any((column != "").all() for column in frame.get_columns()):
        keep = frame.select(pl.any_horizontal(pl.all() != "")).to_series()
        if not keep.all():
            frame, rows = frame.filter(keep), rows.filter(keep)
    names = [" ".join(h.split()) for h in headings]
    while names and not names[-1] and (frame.height == 0 or not (frame.to_series(len(names) - 1) != "").any()):
        names.pop()
    return Sheet(names, frame[frame.columns[: len(names)]], rows, merged)


def _utf8(data: bytes, place: Place, encoding: str | None, whole: bool = True) -> bytes:
    data = data.removeprefix(b"\xef\xbb\xbf")
    if encoding is not None:
        try:
            return data.decode(encoding).encode("utf-8")
        except LookupError:
            raise place.refuse(
                None, "", f'the encoding "{encoding}"', "a known encoding", "Write for example encoding: cp1252."
            ) from None
        except (UnicodeError, ValueError):
            if not whole:
                return data
            todo = "Check the encoding, or save the file again as CSV in UTF-8."
            raise place.refuse(None, "", f"bytes that are not {encoding}", f"text in {encoding}", todo) from None
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as error:
        if not whole:
            return data
        row = data.count(b"\n", 0, error.start) + 1
        todo = "Save it as CSV in UTF-8, or add encoding: cp1252 to this source if it comes from an older program."
        raise place.refuse(row, "", "letters that are not UTF-8", "text in UTF-8", todo) from None
    return data


def _parse(body: bytes, separator: str, width: int) -> pl.DataFrame:
    schema = {str(i): pl.String for i in range(width)}
    if not body:
        return pl.DataFrame(schema=schema)
    cells = pl.read_csv(io.BytesIO(body), has_header=False, separator=separator, schema=schema, infer_schema=False)
    return cells.select(STRIPPED)


def _values(count: int) -> str:
    return "1 value" if count == 1 else f"{count} values"


class _Records:
    """Where the records of a CSV file begin and end; line breaks inside quotation marks do not end one."""

    def __init__(self, content: bytes, place: Place) -> None:
        self._content = content
        self._place = place
        self._bytes = np.frombuffer(content, dtype=np.uint8)
        self._inside: npt.NDArray[np.bool_] | None = None
        quotes = self._bytes == _QUOTE
        ends = self._bytes == _NEWLINE
        if quotes.any():
            # Counting modulo 256 is enough: only odd or even matters.
            self._inside = (np.cumsum(quotes, dtype=np.uint8) & 1).astype(bool)
            ends &= ~self._inside
        self._ends = np.flatnonzero(ends)
        self._starts = np.concatenate(([0], self._ends[:-1] + 1)) if self._ends.size else self._ends
        self.count = int(self._ends.size)
        if self._inside is not None and self._inside[-1]:
            row = self.count + 1
            todo = 'Close the quotation mark; write one inside a value twice ("").'
            raise place.refuse(row, "", "a quotation mark that is not closed", "quotation marks in pairs", todo)

    def text(self, index: int) -> str:
        """The record as text."""
        return self._content[self._starts[index] : self._ends[index]].decode("utf-8")

    def body(self, first: int, separator: str, width: int) -> tuple[bytes, range]:
        """The bytes from record `first` on and the number of each record; ragged ones are refused."""
        if first >= self.count:
            return b"", range(0)
        cuts = self._bytes == ord(separator)
        if self._inside is not None:
            cuts &= ~self._inside
            self._check_quotes(cuts)
        fields = np.searchsorted(np.flatnonzero(cuts), np.stack([self._starts[first:], self._ends[first:]]))
        counts = fields[1] - fields[0] + 1
        blank = self._ends[first:] == self._starts[first:]
        if blank.all():
            return b"", range(0)
        # The parser would count the columns of a blank first row.
        lead = int(np.argmin(blank))
        first, counts, blank = first + lead, counts[lead:], blank[lead:]
        ragged = np.flatnonzero((counts != width) & ~blank)
        if ragged.size:
            raise UnusableInput(self._ragged(ragged, counts, first, width))
        return self._content[self._starts[first] :], range(first + 1, self.count + 1)

    def _ragged(
        self, ragged: npt.NDArray[np.int64], counts: npt.NDArray[np.int64], first: int, width: int
    ) -> list[Problem]:
        todo = "Put quotation marks round values that hold the separator, and fill up short rows with separators."
        expected = f"{_values(width)}, one under each heading"
        shown = ragged if ragged.size <= 20 else ragged[:5]
        problems = [self._place.problem(int(i) + first + 1, "", _values(int(counts[i])), expected, todo) for i in shown]
        if ragged.size > shown.size:
            rest = f"{ragged.size - shown.size:,} more rows (the last is row {int(ragged[-1]) + first + 1:,})"
            problems.append(Problem(self._place.label, rest, "", "another number of values as well", expected, todo))
        return problems

    def _check_quotes(self, cuts: npt.NDArray[np.bool_]) -> None:
        """A mark must open a value or close it; one in the middle would shift everything after it."""
        assert self._inside is not None
        edge = np.ones(self._bytes.size + 2, dtype=bool)
        edge[1:-1] = cuts | ((self._bytes == _NEWLINE) & ~self._inside)
        quotes = np.flatnonzero(self._bytes == _QUOTE)
        opens = self._inside[quotes]
        before = edge[quotes] | (np.concatenate(([0], self._bytes[:-1]))[quotes] == _QUOTE)
        after = edge[quotes + 2] | (np.concatenate((self._bytes[1:], [0]))[quotes] == _QUOTE)
        wrong = quotes[(opens & ~before) | (~opens & ~after)]
        if wrong.size:
            row = int(np.searchsorted(self._ends, wrong[0])) + 1
            todo = 'Put the whole value into quotation marks and write the mark inside twice ("").'
            raise self._place.refuse(row, "", "a quotation mark in the middle of a value", "quoted values", todo)
