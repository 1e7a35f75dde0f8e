"""Files of lines and columns as a spreadsheet may have saved them: CSV with a byte order mark, semicolons or tabs.

Whatever can't be read is named by line and column. pandas is imported where it is used: a web worker that sees no file
never pays for it.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from core.domain.errors import DomainError
from core.domain.figures import grouped

if TYPE_CHECKING:
    import pandas as pd

BYTES_MOST = 1024 * 1024
PROBLEMS_MOST = 50
SHOWN_MOST = 40


@dataclass(frozen=True, slots=True)
class FileProblem:
    """One thing wrong: the line counted from 1, the column by its name, what is wrong and how to fix it."""

    line: int
    column: str
    problem: str


class FileRejected(DomainError):
    """The file can't be taken. Nothing of it was used; `problems` says where and why."""

    def __init__(self, problems: Sequence[FileProblem]) -> None:
        self.problems = tuple(problems)
        super().__init__(f"The file has problems, the first: {self.problems[0].problem}", code="bad_file")


def inert(text: str) -> str:
    """Keep a spreadsheet from taking a name for a formula."""
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def refuse(line: int, column: str, problem: str) -> FileRejected:
    return FileRejected([FileProblem(line, column, problem)])


def text_of(data: bytes) -> str:
    size = len(data)
    if size > BYTES_MOST:
        raise refuse(
            1, "file", f"The file has {grouped(size)} bytes; at most {grouped(BYTES_MOST)} are read. Send it in parts."
        )
    if not data.removeprefix(b"\xef\xbb\xbf").strip():
        raise refuse(1, "file", "The file is empty.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data.count(b"\n", 0, problem.start) + 1
        raise refuse(line, "file", "This is not UTF-8 text. Save the file as CSV in UTF-8.") from problem
    if "\x00" in text:
        line = text.count("\n", 0, text.index("\x00")) + 1
        raise refuse(line, "file", "This is not a text file. Save the file as CSV in UTF-8.")
    return text


def separator_of(header: str) -> str:
    return max(";\t,", key=header.count) if any(mark in header for mark in ";\t,") else ","


def table_of(text: str) -> pd.DataFrame:
    """Split the text into cells, all of them text; a line with a cell too many is named."""
    import pandas as pd

    header = text.splitlines()[0]
    try:
        return pd.read_csv(
            io.StringIO(text),
            sep=separator_of(header),
            header=None,
            names=range(header.count(separator_of(header)) + 1),
            index_col=False,
            dtype=str,
            keep_default_na=False,
            skip_blank_lines=False,
            on_bad_lines="error",
        ).fillna("")
    except pd.errors.ParserError as problem:
        found = re.search(r"line (\d+)", str(problem))
        line = int(found[1]) if found else 1
        raise refuse(
            line, "file", "This line has more cells than the header, or a quotation mark that is never closed."
        ) from problem
