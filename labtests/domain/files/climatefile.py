"""Reading a logger's file of a chamber: time, temperature and, where it has one, relative humidity.

Loggers export many shapes of the same table. Read are: comma, semicolon or tab between cells; lines before the header;
common names of the columns, the unit beside the temperature's name or given with the file; times with their offset, or
in a time zone that is given with the file. What could be read in two ways is refused.
"""

from __future__ import annotations

import csv
import hashlib
import io
import math
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from core.domain.figures import figure
from core.domain.quoting import quoted
from core.domain.units import FloatArray, to_si
from labtests.domain.files.fields import MEASURES, NUMBER, YEARS
from labtests.domain.files.problems import FieldError, FileRejected, Problem, ProblemLog
from labtests.domain.files.textfile import decode_text

MAX_ROWS = 200_000
MAX_HEAD_LINES = 40
TIME_NAMES = {"time", "timestamp", "datetime", "date time", "date/time", "date & time", "recorded", "time stamp"}
DATE_NAMES = {"date", "day"}
CLOCK_NAMES = {"time", "clock", "hour"}
TEMPERATURE_NAMES = {"temperature", "temp", "t", "air temperature", "temperature 1", "temp 1", "channel 1", "ch1"}
HUMIDITY_NAMES = {"humidity", "relative humidity", "rh", "rel humidity", "rel. humidity", "hum"}
UNIT_SIGNS = {"degc": "degC", "°c": "degC", "c": "degC", "celsius": "degC", "deg c": "degC"} | {
    "degf": "degF",
    "°f": "degF",
    "f": "degF",
    "fahrenheit": "degF",
    "deg f": "degF",
}
# Name, then a unit in brackets or after an underscore, comma or space.
COLUMN = re.compile(
    r"(?P<name>.*?)\s*(?:[\[(]\s*(?P<bracketed>[^\])]+?)\s*[\])]|[_, ]\s*(?P<bare>°?[cf]|deg ?[cf]|%(?: ?rh)?))?"
)
FORMATS = ("%d.%m.%Y %H:%M:%S", "%d.%m.%Y %H:%M", "%Y/%m/%d %H:%M:%S", "%Y/%m/%d %H:%M")
DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+", re.ASCII)
MISSING = {"", "-", "--", "nan", "n/a", "na"}


@dataclass(frozen=True, slots=True)
class Columns:
    """Where things are in a row; `clock` is the second half of the time where it is in two columns."""

    time: int
    clock: int | None
    temperature: int
    humidity: int | None
    unit: str
    width: int


@dataclass(frozen=True, slots=True, eq=False)
class ClimateTable:
    """What was read, shape (n,), in the order of time: s since 1970 (UTC), °C, % (empty where there is none)."""

    times: FloatArray
    temperatures_c: FloatArray
    humidities: FloatArray
    unit: str

    @property
    def first_at(self) -> datetime:
        return datetime.fromtimestamp(float(self.times[0]), UTC)

    @property
    def last_at(self) -> datetime:
        return datetime.fromtimestamp(float(self.times[-1]), UTC)

    @property
    def sha256(self) -> str:
        """Hash of the readings: the same readings in another file have the same."""
        digest = hashlib.sha256()
        for column in (self.times, self.temperatures_c.round(6), self.humidities.round(6)):
            digest.update(column.astype("<f8").tobytes())
        return digest.hexdigest()


def read_climate(
    data: bytes, *, name: str, zone: ZoneInfo | None, unit: str = "", now: datetime
) -> tuple[ClimateTable | None, tuple[Problem, ...]]:
    """Read a logger's file.

    Parameters
    ----------
    data : bytes
    name : str
        Of the file, for messages.
    zone : ZoneInfo or None
        Of times that are written without their offset; None where every time must have one.
    unit : str
        ``degC`` or ``degF`` of a temperature whose column does not say it; empty where it must.
    now : datetime
        No reading is later.

    Returns
    -------
    ClimateTable or None, tuple of Problem
        All of the file, or what is wrong with it by line and column.

    Examples
    --------
    >>> table, problems = read_climate(b"time,temperature [degC],humidity [%]\\n2026-03-02T10:00:00Z,23.1,50\\n",
    ...     name="a.csv", zone=None, now=datetime(2026, 3, 3, tzinfo=UTC))
    >>> table.temperatures_c.tolist(), table.first_at.isoformat(), problems
    ([23.1], '2026-03-02T10:00:00+00:00', ())
    """
    log = ProblemLog(name)
    try:
        return _read(decode_text(data, log), log, zone=zone, unit=unit, now=now), ()
    except FileRejected as rejected:
        return None, rejected.problems


def _read(text: str, log: ProblemLog, *, zone: ZoneInfo | None, unit: str, now: datetime) -> ClimateTable:
    lines = text.split("\n")
    number, separator, columns = _find_header(lines, unit, log)
    reader = csv.reader(io.StringIO("\n".join(lines[number:])), delimiter=separator)
    rows: dict[float, tuple[float, float]] = {}
    limit = now + timedelta(minutes=15)
    for line, row in enumerate(_rows(reader, log, number), start=number + 1):
        if log.is_full or not any(cell.strip() for cell in row):
            continue
        if line - number > MAX_ROWS:
            log.reject(line, "file", f"more than {MAX_ROWS} rows; send the file in parts")
        _read_row([cell.strip() for cell in row], line, columns, rows, log, zone=zone, limit=limit)
    log.raise_if_any()
    if not rows:
        log.reject(number + 1, "file", "there are no readings below the header")
    return _table(rows, columns)


def _rows(reader: Iterator[list[str]], log: ProblemLog, number: int) -> list[list[str]]:
    try:
        return list(reader)
    except csv.Error as problem:
        log.reject(number + 1, "file", f"the table can’t be read ({problem}); export it as plain CSV")


def _table(rows: dict[float, tuple[float, float]], columns: Columns) -> ClimateTable:
    times = np.array(sorted(rows))
    values = np.array([rows[time] for time in times.tolist()])
    humidities = values[:, 1] if columns.humidity is not None else np.array([])
    return ClimateTable(times, values[:, 0], humidities, columns.unit)


def _find_header(lines: Sequence[str], unit: str, log: ProblemLog) -> tuple[int, str, Columns]:
    """Find the header among the first lines: the number of lines up to it, what separates cells, and the columns."""
    number = next((number for number, line in enumerate(lines[:MAX_HEAD_LINES], 1) if _is_header(line)), None)
    if number is None:
        words = "there is no header with a column of temperature, such as: time,temperature [degC],humidity [%]"
        log.reject(1, "file", words)
    separator = _separator(lines[number - 1])
    return number, separator, _columns(_names(lines[number - 1]), number, unit, log)


def _separator(line: str) -> str:
    return next((mark for mark in ("\t", ";") if mark in line), ",")


def _names(line: str) -> list[tuple[str, str]]:
    return [_parts(cell) for cell in next(csv.reader([line], delimiter=_separator(line)), [])]


def _is_header(line: str) -> bool:
    return any(name in TEMPERATURE_NAMES for name, _ in _names(line))


def _parts(cell: str) -> tuple[str, str]:
    """Split a column's name from its unit, both in lower case."""
    text = " ".join(cell.strip().lower().replace("º", "°").split())
    found = COLUMN.fullmatch(text)
    if found is None:
        return text, ""
    name = found["name"].replace("_", " ").strip(" :")
    return name, (found["bracketed"] or found["bare"] or "").strip()


def _columns(names: list[tuple[str, str]], line: int, unit: str, log: ProblemLog) -> Columns:
    plain = [name for name, _ in names]
    temperature = _only(plain, TEMPERATURE_NAMES, "temperature", line, log)
    humidities = [
        place for place, name in enumerate(plain) if name in HUMIDITY_NAMES or name.strip("% ") in HUMIDITY_NAMES
    ]
    if len(humidities) > 1:
        log.reject(line, "humidity", "there are two columns of humidity; remove one of them")
    days = [place for place, name in enumerate(plain) if name in DATE_NAMES]
    clocks = [place for place, name in enumerate(plain) if name in CLOCK_NAMES]
    if days and len(clocks) == 1:
        time, clock = days[0], clocks[0]
    else:
        time, clock = _only(plain, TIME_NAMES | DATE_NAMES, "time", line, log), None
    return Columns(
        time,
        clock,
        temperature,
        humidities[0] if humidities else None,
        _unit(names[temperature], unit, line, log),
        len(names),
    )


def _only(names: list[str], known: set[str], what: str, line: int, log: ProblemLog) -> int:
    found = [place for place, name in enumerate(names) if name in known]
    if len(found) != 1:
        words = (
            f"there is no column of {what}; name one {quoted(what)}"
            if not found
            else f"there are two columns of {what}; remove one of them"
        )
        log.reject(line, what, words)
    return found[0]


def _unit(column: tuple[str, str], given: str, line: int, log: ProblemLog) -> str:
    name, sign = column
    stated = UNIT_SIGNS.get(sign, "")
    if sign and not stated:
        log.reject(line, name, f"unit {quoted(sign)} is not known for temperature; use degC or degF")
    if stated and given and stated != given:
        log.reject(line, name, f"the column says {stated}, but {given} was chosen for the file; correct the choice")
    if not stated and not given:
        log.reject(
            line, name, "the unit is not stated; write temperature [degC] or [degF], or choose the unit of the file"
        )
    return stated or given


def _read_row(
    row: list[str],
    line: int,
    columns: Columns,
    rows: dict[float, tuple[float, float]],
    log: ProblemLog,
    *,
    zone: ZoneInfo | None,
    limit: datetime,
) -> None:
    places = [columns.time, columns.temperature, columns.clock or 0, columns.humidity or 0]
    if len(row) <= max(places):
        log.add(line, "file", f"the row has {len(row)} cells, the header {columns.width}")
        return
    values: dict[str, float] = {}
    written = row[columns.time] if columns.clock is None else f"{row[columns.time]} {row[columns.clock]}"
    readers: dict[str, Callable[[], float]] = {
        "time": lambda: read_time(written, zone=zone, limit=limit),
        "temperature": lambda: _temperature(row[columns.temperature], columns.unit),
        "humidity": lambda: math.nan if columns.humidity is None else _humidity(row[columns.humidity]),
    }
    for column, read in readers.items():
        try:
            values[column] = read()
        except FieldError as problem:
            log.add(line, column, str(problem))
    if len(values) < len(readers):
        return
    if values["time"] in rows:
        log.add(line, "time", f"{quoted(written)} appears twice; each time has one reading")
        return
    rows[values["time"]] = (values["temperature"], values["humidity"])


def read_time(text: str, *, zone: ZoneInfo | None, limit: datetime) -> float:
    """Read a time as seconds since 1970 (UTC).

    Raises
    ------
    FieldError
        For what is no time, could be read in two ways, has no offset and no zone, does not exist or exists twice in
        that zone, or is later than `limit`.

    Examples
    --------
    >>> read_time("2026-03-02 10:00", zone=ZoneInfo("Europe/Oslo"), limit=datetime(2026, 4, 1, tzinfo=UTC))
    1772442000.0
    """
    moment = _moment(text.strip())
    if moment.tzinfo is None:
        moment = _in_zone(moment, text, zone)
    if not YEARS[0] <= moment.year <= YEARS[1]:
        raise FieldError(f"the year of {quoted(text)} makes no sense; correct the logger’s clock")
    if moment > limit:
        raise FieldError(f"{quoted(text)} is in the future; check the logger’s clock and the time zone")
    return moment.timestamp()


def _moment(text: str) -> datetime:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        pass
    for shape in FORMATS:
        try:
            return datetime.strptime(text, shape)  # noqa: DTZ007 the zone is added by the caller
        except ValueError:
            continue
    if re.fullmatch(r"\d{1,2}/\d{1,2}/\d{4}.*", text):
        raise FieldError(f"{quoted(text)} could be day/month or month/day; export dates as 2026-03-02 10:00")
    raise FieldError(f"{quoted(text)} is not a time; write 2026-03-02 10:00 or 2026-03-02T10:00:00+01:00")


def _in_zone(moment: datetime, text: str, zone: ZoneInfo | None) -> datetime:
    if zone is None:
        raise FieldError(f"{quoted(text)} has no offset from UTC; choose the time zone of the file")
    first, second = moment.replace(tzinfo=zone), moment.replace(tzinfo=zone, fold=1)
    if first.utcoffset() == second.utcoffset():
        return first
    if first.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != moment:
        raise FieldError(f"{quoted(text)} does not exist in {zone.key}: the clocks were put forward; use UTC")
    raise FieldError(f"{quoted(text)} appears twice in {zone.key}: the clocks were put back; export in UTC")


def _number(text: str) -> float:
    plain = text.replace(",", ".") if DECIMAL_COMMA.fullmatch(text) else text
    if not NUMBER.fullmatch(plain):
        raise FieldError(f"{quoted(text)} is not a number; write digits such as 23.4")
    return float(plain)


def _temperature(text: str, unit: str) -> float:
    value = float(to_si(_number(text), unit, quantity="temperature"))
    low, high = MEASURES["temperature"].low, MEASURES["temperature"].high
    if not low <= value <= high:
        raise FieldError(f"{text} {unit} makes no sense for a chamber; accepted: {figure(low)} to {figure(high)} °C")
    return value


def _humidity(text: str) -> float:
    if text.lower() in MISSING:
        return math.nan
    value = _number(text.removesuffix("%").strip())
    if not 0.0 <= value <= 100.0:
        raise FieldError(f"a relative humidity of {quoted(text)} makes no sense; accepted: 0 to 100 %")
    return value
