"""A station's table as columns with one meaning and unit each, and the month of every line."""

from __future__ import annotations

import csv
import datetime
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..core.model import InputProblem

_NAMES = {
    "date": "date datum fecha data day date dateday yyyymmdd timestamp time",
    "month": "month mon monat mois mes mese",
    "year": "year yr jahr annee ano anno",
    "dom": "dayofmonth dom",
    "doy": "dayofyear doy jday julianday",
    "et0": "et0 eto et0pm etopm referenceet referenceevapotranspiration referencecropet refet etref"
    " evapotranspiration et",
    "rain": "rain rainfall precipitation precip prcp ppt regen niederschlag pluie lluvia precipitacion"
    " pioggia",
    "tmin": "tmin mintemp tempmin minimumtemperature temperaturemin mintemperature tn airtempmin"
    " lowesttemperature",
    "tmax": "tmax maxtemp tempmax maximumtemperature temperaturemax maxtemperature tx airtempmax"
    " highesttemperature",
    "rhmin": "rhmin minrh relativehumiditymin humiditymin minhumidity minrelativehumidity",
    "rhmax": "rhmax maxrh relativehumiditymax humiditymax maxhumidity maxrelativehumidity",
    "rh": "rh rhmean meanrh avgrh rhavg relativehumidity humidity meanrelativehumidity",
    "dew": "tdew dewpoint dew dewpointtemperature tdewpoint dewtemperature",
    "wind": "wind u2 windspeed wind2m windspeed2m ws u meanwind windmean avgwind",
    "wind10": "wind10m windspeed10m u10 wind10 ws10 ws10m",
    "sun": "sun sunshine sunhours sunshinehours hoursofsun n sunshineduration insolationhours",
    "solar": "rs solar radiation solarradiation globalradiation srad solarrad shortwave incomingsolar"
    " globalsolarradiation",
}
"""Column names by what they mean, in lower case without blanks, accents, brackets or marks."""
_MEANING = {word: key for key, words in _NAMES.items() for word in words.split()}

_UNITS: dict[str, tuple[tuple[str, float, float], ...]] = {
    # column: (unit without marks, times, plus) into °C, %, m/s, h, MJ/(m² day), mm
    "warm": (("degreescelsius", 1, 0), ("celsius", 1, 0), ("degc", 1, 0), ("c", 1, 0),
             ("fahrenheit", 5 / 9, -160 / 9), ("degf", 5 / 9, -160 / 9), ("f", 5 / 9, -160 / 9)),
    "share": (("percent", 1, 0), ("pct", 1, 0), ("", 1, 0)),
    "wind": (("kmh", 1 / 3.6, 0), ("kph", 1 / 3.6, 0), ("mph", 0.44704, 0), ("knots", 0.514444, 0),
             ("kt", 0.514444, 0), ("kmday", 1 / 86.4, 0), ("kmd", 1 / 86.4, 0), ("ms1", 1, 0), ("ms", 1, 0)),
    "hours": (("hours", 1, 0), ("hday", 1, 0), ("h", 1, 0)),
    "solar": (("mjm2day", 1, 0), ("mjm2d", 1, 0), ("mjm2day1", 1, 0), ("mjm2d1", 1, 0), ("mjm2", 1, 0),
              ("mj", 1, 0), ("wm2", 0.0864, 0), ("kwhm2day", 3.6, 0), ("kwhm2d", 3.6, 0), ("kwhm2", 3.6, 0),
              ("langleysday", 0.04184, 0), ("langleys", 0.04184, 0), ("lyday", 0.04184, 0),
              ("ly", 0.04184, 0)),
    "water": (("mmday", 1, 0), ("mmd", 1, 0), ("mmday1", 1, 0), ("mmd1", 1, 0), ("mmmonth", 1, 0), ("mmmon", 1, 0),
              ("mm", 1, 0), ("inday", 25.4, 0), ("inchday", 25.4, 0), ("inmonth", 25.4, 0),
              ("inches", 25.4, 0), ("inch", 25.4, 0), ("in", 25.4, 0), ("cm", 10, 0)),
}  # fmt: skip
_UNITS_OF = {
    "tmin": "warm", "tmax": "warm", "dew": "warm", "rhmin": "share", "rhmax": "share", "rh": "share",
    "wind": "wind", "wind10": "wind", "sun": "hours", "solar": "solar", "rain": "water", "et0": "water",
}  # fmt: skip
_LIMITS = {
    # beyond these a column is in another unit than it says, or is another column
    "tmin": (-70.0, 50.0, "°C"),
    "tmax": (-60.0, 60.0, "°C"),
    "dew": (-80.0, 45.0, "°C"),
    "rhmin": (0.0, 101.0, "%"),
    "rhmax": (0.0, 101.0, "%"),
    "rh": (0.0, 101.0, "%"),
    "wind": (0.0, 60.0, "m/s"),
    "sun": (0.0, 24.5, "hours a day"),
    "solar": (0.0, 45.0, "MJ/m² a day"),
    "rain": (0.0, 3000.0, "mm"),
    "et0": (0.0, 620.0, "mm"),
}
_NOTHING = ("", "na", "n/a", "nan", "null", "none", "-", "--", "---", "m", "x", "…")
_MISSING_FROM = -90.0
"""Such as -99.9 and -9999: a station's way to say that nothing was measured."""
_MONTH_WORDS = {
    word: number
    for number, words in enumerate(
        (
            "jan ene gen", "feb fev fév", "mar mär mrz maerz", "apr abr avr", "may mai mag", "jun giu juin",
            "jul lug juil", "aug ago aou aoû", "sep set", "oct okt ott out", "nov", "dec dez dic déc",
        ),
        1,
    )
    for word in words.split()
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class WeatherTable:
    """Columns of a station's file, n lines, NaN where nothing was measured.

    Attributes
    ----------
    columns : mapping of name to float array, shape (n,)
        Of `et0`, `rain` [mm], `tmin`, `tmax`, `dew` [°C], `rhmin`, `rhmax`, `rh` [%], `wind` [m/s], `sun` [h],
        `solar` [MJ/(m² day)]: those that are there.
    units : mapping of name to str
        "day" or "month" where the header says what evapotranspiration is for; "10 m" where wind is that
        at 10 m.
    month : int array, shape (n,)
    year : int array, shape (n,), or None
    day_of_year : int array, shape (n,), or None where lines are months
    line : list of int
        Line in the file.
    """

    columns: dict[str, np.ndarray]
    units: dict[str, str]
    month: np.ndarray
    year: np.ndarray | None
    day_of_year: np.ndarray | None
    line: list[int]

    @property
    def is_daily(self) -> bool:
        return self.day_of_year is not None


def read_weather_table(path: Path) -> WeatherTable:
    """Read a table of months or days.

    Raises
    ------
    InputProblem
        Where there is no header, no month or date, or a cell is no number.
    """
    name = path.name
    rows, line = _rows(path, name)
    header, rows, line = rows[0], rows[1:], line[1:]
    found, said = _found_columns(header)
    if not found:
        raise InputProblem(
            f"{name} has no header with known columns; name them month, et0 and rain, or date, tmin and "
            "tmax."
        )
    if not rows:
        raise InputProblem(f"{name} has a header and no lines of figures; export it again.")
    month, year, day = _times(found, rows, line, name)
    columns = {
        key: _numbers(rows, line, found[key], key, said[key], name)
        for key in _UNITS_OF
        if key in found
    }
    units = {}
    if "et0" in said and (kind := re.search(r"(month|mon|day|d)1?$", said["et0"])):
        units["et0"] = "month" if kind[1].startswith("mon") else "day"
    if "wind10" in columns:
        wind = columns.pop("wind10")
        if "wind" not in columns:
            columns["wind"], units["wind"] = wind, "10 m"
    return WeatherTable(columns, units, month, year, day, line)


def _rows(path: Path, name: str) -> tuple[list[list[str]], list[int]]:
    try:
        data = path.read_bytes()
    except OSError as problem:
        raise InputProblem(
            f"{name} cannot be read ({problem.strerror}); check its place."
        ) from None
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        text = data.decode("utf-16", "replace")
    elif b"\x00" in data[:4096]:
        raise InputProblem(f"{name} is no text file; export the weather as CSV.")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("cp1252", "replace")
    rows, line = [], []
    lines = text.splitlines()
    kept = [s for s in lines if s.strip(" \t;,") and not s.lower().startswith(("#", "sep="))]
    if not kept:
        raise InputProblem(f"{name} holds only blank lines; export the weather again.")
    mark = max("\t;,", key=kept[0].count)
    if not kept[0].count(mark):
        mark = " "
    for number, text_line in enumerate(lines, 1):
        if text_line in kept:
            cells = (
                text_line.split()
                if mark == " "
                else next(csv.reader([text_line], delimiter=mark, skipinitialspace=True))
            )
            rows.append([c.strip() for c in cells])
            line.append(number)
    return rows, line


def _found_columns(header: list[str]) -> tuple[dict[str, int], dict[str, str]]:
    """Column of each meaning, and the unit that its name has, without marks."""
    found: dict[str, int] = {}
    said: dict[str, str] = {}
    for at, cell in enumerate(header):
        read = _meaning(cell)
        if read and read[0] not in found:
            found[read[0]], said[read[0]] = at, read[1]
    if "date" not in found and "month" in found and "dom" not in found:
        # "day" is a date, or a day's number beside year and month
        plain = [_plain(c) for c in header]
        if "day" in plain:
            found["dom"] = plain.index("day")
    elif "date" in found and _plain(header[found["date"]]) == "day" and "month" in found:
        found["dom"] = found.pop("date")
    return found, said


def _meaning(cell: str) -> tuple[str, str] | None:
    """What a column's name means, and its unit: in brackets, or behind the name."""
    bracket = re.search(r"[(\[](.*?)[)\]]", cell)
    unit = _plain(bracket[1]) if bracket else ""
    bare = _plain(cell[: bracket.start()] + cell[bracket.end() :] if bracket else cell)
    if bare in _MEANING:
        return _MEANING[bare], unit
    for cut in range(len(bare) - 1, 0, -1):
        key = _MEANING.get(bare[:cut])
        tails = _UNITS.get(_UNITS_OF.get(key or "", ""), ())
        if key and any(bare[cut:] == u for u, _, _ in tails if u):
            return key, unit or bare[cut:]
    return None


def _plain(text: str) -> str:
    import unicodedata

    text = text.replace("°", "").replace("²", "2").replace("⁻¹", "").replace("−", "").lower()
    text = unicodedata.normalize("NFKD", text).replace("%", "percent").replace("₀", "0")
    return re.sub(r"[^a-z0-9]", "", text)


def _number(cell: str) -> float | None:
    """A cell's number, NaN for none measured; None where it is no number."""
    word = cell.strip().strip("'\"").lower()
    if word in _NOTHING:
        return np.nan
    try:
        value = float(word.replace(",", ".") if word.count(",") == 1 else word)
    except ValueError:
        return None
    return value


def _numbers(rows, line, at: int, key: str, unit: str, name: str) -> np.ndarray:
    """A column in its inner unit."""
    out = np.empty(len(rows))
    for i, row in enumerate(rows):
        value = _number(row[at] if at < len(row) else "")
        if value is None:
            raise InputProblem(
                f"{name}, line {line[i]}: {row[at]!r} is no number for {key}; mend it or empty the cell."
            )
        out[i] = np.nan if value <= _MISSING_FROM else value
    times, plus = 1.0, 0.0
    if unit:
        known = {u: (a, b) for u, a, b in _UNITS[_UNITS_OF[key]]}
        if unit not in known:
            raise InputProblem(
                f"{name} gives {key} in {unit!r}, a unit that is not known here; convert it to "
                f"{_LIMITS.get(key, (0, 0, 'm/s'))[2]}."
            )
        times, plus = known[unit]
    out = out * times + plus
    low, high, want = _LIMITS["wind" if key == "wind10" else key]
    beyond = np.flatnonzero((out < low) | (out > high))
    if len(beyond):
        hint = "°F" if want == "°C" else "another unit"
        raise InputProblem(
            f"{name}, line {line[beyond[0]]}: {out[beyond[0]]:g} {want} for {key} is outside {low:g} to "
            f"{high:g}; if the file is in {hint}, say so in the header, such as "
            f"{'tmax_f' if want == '°C' else key + ' (unit)'}."
        )
    return out


def _times(found, rows, line, name):
    """Month, year and day of the year of every line."""

    def cells(key):
        at = found[key]
        return [row[at] if at < len(row) else "" for row in rows]

    if "date" in found:
        return _by_dates(cells("date"), line, name)
    year = _whole(cells("year"), line, name, "year", 1800, 2200) if "year" in found else None
    if "doy" in found and year is not None:
        doy = _whole(cells("doy"), line, name, "day of the year", 1, 366)
        days = (year - 1970).astype("datetime64[Y]").astype("datetime64[D]") + (doy - 1)
        return days.astype("datetime64[M]").astype(int) % 12 + 1, year, doy
    if "month" in found:
        month = _months(cells("month"), line, name)
        if "dom" in found and year is not None:
            dom = _whole(cells("dom"), line, name, "day", 1, 31)
            return month, year, _days_of_year(year, month, dom, line, name)
        return month, year, None
    if len(rows) == 12:
        return np.arange(1, 13), year, None
    raise InputProblem(
        f"{name} has no column of months or dates; name one month or date in its header."
    )


def _whole(cells, line, name, what, low, high) -> np.ndarray:
    out = np.empty(len(cells), dtype=int)
    for i, cell in enumerate(cells):
        value = _number(cell)
        if value is None or np.isnan(value) or value != int(value) or not low <= value <= high:
            raise InputProblem(f"{name}, line {line[i]}: {cell!r} is no {what}; mend the line.")
        out[i] = int(value)
    return out


def _months(cells, line, name) -> np.ndarray:
    out = np.empty(len(cells), dtype=int)
    for i, cell in enumerate(cells):
        word = cell.strip(" .").lower()
        number = _MONTH_WORDS.get(word[:4]) or _MONTH_WORDS.get(word[:3])
        if number is None and re.fullmatch(r"\d{1,2}(\.0)?", word):
            number = int(float(word))
        if number is None or not 1 <= number <= 12:
            raise InputProblem(
                f"{name}, line {line[i]}: {cell!r} is no month; write 1 to 12, or Jan to Dec."
            )
        out[i] = number
    return out


def _by_dates(cells, line, name):
    """Dates year first, or in the one order of day and month that all lines allow; months too."""
    parts = []
    for i, cell in enumerate(cells):
        word = re.sub(r"[T ]\d{1,2}:\d{2}.*$", "", cell.strip().strip("'\""))
        if re.fullmatch(r"\d{8}", word):
            word = f"{word[:4]}-{word[4:6]}-{word[6:]}"
        numbers = [int(n) for n in re.findall(r"\d+", word)]
        whole = re.fullmatch(r"\d{1,4}([-/.])\d{1,2}(\1\d{1,4})?\.?", word)
        if not whole or len(numbers) not in (2, 3):
            raise InputProblem(
                f"{name}, line {line[i]}: {cell!r} is no date; write year-month-day, such as 2024-07-31."
            )
        parts.append(numbers)
    if len({len(p) for p in parts}) > 1:
        raise InputProblem(f"{name} mixes days and months in its dates; keep either.")
    got = np.array(parts)
    if got.shape[1] == 2:
        year, month = (got[:, 0], got[:, 1]) if got[0, 0] > 31 else (got[:, 1], got[:, 0])
        if ((month < 1) | (month > 12)).any():
            at = int(np.flatnonzero((month < 1) | (month > 12))[0])
            raise InputProblem(
                f"{name}, line {line[at]}: {cells[at]!r} is no month; mend the line."
            )
        return month, year, None
    if got[0, 0] > 31:
        year, month, dom = got.T
    else:
        first, second, year = got.T
        year = np.where(year < 100, year + 2000, year)
        if (first > 12).any() and (second > 12).any():
            raise InputProblem(
                f"{name} has days and months of its dates in no one order; write year-month-day."
            )
        if not (first > 12).any() and not (second > 12).any():
            raise InputProblem(
                f"{name}: it cannot be told whether {cells[0]!r} has the day or the month first; write "
                "year-month-day."
            )
        dom, month = (first, second) if (first > 12).any() else (second, first)
    return month, year, _days_of_year(year, month, dom, line, name)


def _days_of_year(year, month, dom, line, name) -> np.ndarray:
    out = np.empty(len(year), dtype=int)
    for i, (y, m, d) in enumerate(zip(year.tolist(), month.tolist(), dom.tolist(), strict=True)):
        try:
            out[i] = datetime.date(y, m, d).timetuple().tm_yday
        except ValueError:
            raise InputProblem(
                f"{name}, line {line[i]}: there is no day {y}-{m:02d}-{d:02d}; mend the line."
            ) from None
    return out
