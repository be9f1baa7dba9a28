"""A station's file becomes a usual year, in any of its dialects, or one sentence says what is wrong."""

from __future__ import annotations

import datetime

import numpy as np
import pytest

from layoutdesk.core.model import InputProblem
from layoutdesk.core.water import evapotranspiration as et
from layoutdesk.formats.weather import read_climate

ET0 = (0.6, 1.0, 1.9, 3.0, 4.1, 5.0, 5.6, 4.9, 3.3, 1.8, 0.8, 0.5)
RAIN = (60, 50, 55, 60, 70, 65, 50, 60, 70, 80, 75, 65)
NAMES = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
PLACE = {"latitude_deg": 46.0, "height_m": 210.0}


def read(tmp_path, text, **place):
    path = tmp_path / "station.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_climate(path, **(PLACE | place))


def monthly(header="month,et0,rain", mark=",", comma=False, months=range(1, 13), times=1.0):
    rows = [f"{m}{mark}{ET0[m - 1] * times:.3f}{mark}{RAIN[m - 1]}" for m in months]
    text = "\n".join([header, *rows])
    return text.replace(".", ",") if comma else text


@pytest.mark.parametrize(
    "text",
    [
        monthly(),
        monthly("Month;ETo (mm/day);Rainfall (mm)", ";", comma=True),
        "# from the station\n" + monthly("Monat\tET0\tNiederschlag [mm]", "\t"),
        monthly("mois;et0_mm_day;pluie", ";").encode("utf-8-sig"),
        "\n".join(["month,et0,rain"] + [f"{n},{e},{r}" for n, e, r in zip(NAMES, ET0, RAIN, strict=True)]),
        # A year that begins in July, and two years alike.
        monthly(months=[7, 8, 9, 10, 11, 12, 1, 2, 3, 4, 5, 6]),
        monthly() + "\n" + monthly().partition("\n")[2],
    ],
)  # fmt: skip
def test_months_are_read_in_any_dialect(tmp_path, text):
    climate = read(tmp_path, text)
    assert climate.et0_mm_day == pytest.approx(ET0, abs=1e-3)
    assert climate.rain_mm == pytest.approx(RAIN)


def test_months_totals_and_inches_are_told_from_days(tmp_path):
    days = np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    total = np.array(ET0) * days
    rows = [f"{m},{t:.2f},{r / 25.4:.3f}" for m, t, r in zip(NAMES, total, RAIN, strict=True)]
    for header in ("month,et0,rain (in)", "month,et0_mm_month,rain_in"):
        climate = read(tmp_path, "\n".join([header, *rows]))
        assert climate.et0_mm_day == pytest.approx(ET0, abs=2e-3)
        assert climate.rain_mm == pytest.approx(RAIN, abs=0.1)


def two_years():
    """Weather of 2022 and 2023, every day."""
    some = np.random.default_rng(4)
    days = [datetime.date(2022, 1, 1) + datetime.timedelta(i) for i in range(730)]
    season = -np.cos(2 * np.pi * (np.arange(730) - 20) / 365)
    low = 6 + 8 * season + some.normal(0, 2, 730)
    weather = {
        "tmin": low,
        "tmax": low + some.uniform(5, 14, 730),
        "rh_min": some.uniform(30, 60, 730),
        "rh_max": some.uniform(75, 100, 730),
        "wind_10m": some.uniform(1, 6, 730),
        "rs": 10 + 8 * season + some.uniform(0, 3, 730),
        "rain": some.choice([0, 0, 0, 12.0], 730),
    }
    return days, {k: v.round(2) for k, v in weather.items()}


def as_csv(days, columns, date="{:%Y-%m-%d}"):
    lines = ["date," + ",".join(columns)]
    rows = np.column_stack(list(columns.values()))
    lines += [
        date.format(d) + "," + ",".join("" if np.isnan(v) else f"{v:.2f}" for v in row)
        for d, row in zip(days, rows, strict=True)
    ]
    return "\n".join(lines)


def test_daily_weather_goes_through_penman_and_monteith(tmp_path):
    days, w = two_years()
    climate = read(tmp_path, as_csv(days, w))
    doy = np.array([d.timetuple().tm_yday for d in days])
    vapour = et.vapour_kpa(w["tmin"], w["tmax"], rh_min_pct=w["rh_min"], rh_max_pct=w["rh_max"])
    clear = et.clear_sky_mj_m2(210.0, 46.0, doy)
    net = et.net_radiation_mj_m2(w["tmin"], w["tmax"], vapour, w["rs"], clear)
    mean, wind = (w["tmin"] + w["tmax"]) / 2, et.wind_at_2m_m_s(w["wind_10m"], 10.0)
    daily = et.penman_monteith_mm(mean, w["tmin"], w["tmax"], vapour, wind, net, 0.0, 210.0)
    july = [i for i, d in enumerate(days) if d.month == 7]
    assert climate.et0_mm_day[6] == pytest.approx(daily[july].mean(), abs=1e-3)
    assert climate.rain_mm[6] == pytest.approx(w["rain"][july].sum() / 2, abs=0.1)
    assert (
        climate.source == "station.csv, Penman–Monteith (FAO-56) from daily weather, 2022 to 2023"
    )
    # The same days, day first, and in Fahrenheit as the header says; some rain not measured.
    w_f = w | {"rain": np.where(np.arange(730) % 9 == 0, np.nan, w["rain"])}
    text = as_csv(
        days, w_f | {"tmin": w["tmin"] * 1.8 + 32, "tmax": w["tmax"] * 1.8 + 32}, "{:%d/%m/%Y}"
    )
    again = read(tmp_path, text.replace("tmin,tmax", "Tmin (°F),tmax_f"))
    assert again.et0_mm_day == pytest.approx(climate.et0_mm_day, abs=2e-3)


def test_temperatures_alone_go_through_hargreaves_and_it_is_said(tmp_path):
    days, w = two_years()
    climate = read(tmp_path, as_csv(days, {k: w[k] for k in ("tmin", "tmax", "wind_10m")}))
    above = et.extraterrestrial_mj_m2(46.0, np.array([d.timetuple().tm_yday for d in days]))
    daily = et.hargreaves_mm(w["tmin"], w["tmax"], above)
    january = [i for i, d in enumerate(days) if d.month == 1]
    assert climate.et0_mm_day[0] == pytest.approx(daily[january].mean(), abs=1e-3)
    assert "Hargreaves" in climate.source
    assert "humidity" in climate.source
    assert climate.rain_mm == ()


def test_example_17_as_a_monthly_file_with_its_soil_heat(tmp_path):
    # FAO-56, example 17: Bangkok, April; 29.2 °C in March, eq. 43 asks for May as well: 31.2 makes
    # the same 0.14 MJ of soil heat as the example's eq. 44.
    rows = ["month,tmin,tmax,dew,wind,sun"]
    dew = 23.177  # 2.85 kPa
    mean = dict.fromkeys(range(1, 13), 30.2) | {3: 29.2, 5: 31.2}
    rows += [f"{m},{t - 4.6:.1f},{t + 4.6:.1f},{dew},2,8.5" for m, t in mean.items()]
    climate = read(tmp_path, "\n".join(rows), latitude_deg=13 + 44 / 60, height_m=2.0)
    assert climate.et0_mm_day[3] == pytest.approx(5.72, abs=0.01)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "only blank lines"),
        ("a,b\n1,2", "no header with known columns"),
        (monthly(months=[1, 2, 3, 4, 5, 8, 9, 10, 11, 12]), "of June and July"),
        (monthly().replace("4.100", "much"), "line 6: 'much' is no number for et0"),
        (monthly().replace("\n7,", "\nSummer,"), "'Summer' is no month"),
        (monthly(times=-1.0), "outside 0 to 620"),
        ("month,wind\n1,2", "neither a column et0 nor temperatures"),
        ("date,tmin,tmax\n2024-07-01,58,91", "if the file is in °F, say so in the header"),
        ("date,tmin,tmax\n2024-07-01,20,9", "line 2: the lowest temperature is above"),
        ("date,tmin,tmax\n01/02/2024,2,9", "day or the month first"),
        ("date,tmin,tmax\n2024-02-30,2,9", "no day 2024-02-30"),
        ("date,tmin,tmax\nyesterday,2,9", "'yesterday' is no date"),
        ("month,et0 (furlong)\n1,2", "'furlong', a unit that is not known"),
        ("et0,rain\n1,2", "no column of months or dates"),
        (b"PK\x03\x04\x00\x00", "no text file"),
    ],
)
def test_what_cannot_be_read_is_said_in_one_sentence(tmp_path, text, says):
    with pytest.raises(InputProblem) as problem:
        read(tmp_path, text)
    assert says in str(problem.value)
    assert str(problem.value).startswith("station.csv")


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(InputProblem, match=r"none\.csv cannot be read"):
        read_climate(tmp_path / "none.csv", **PLACE)


def test_one_month_that_is_out_of_scale_is_refused_and_not_taken_for_totals(tmp_path):
    months = [1.2, 1.9, 2.8, 4.0, 5.1, 6.2, 500, 5.9, 4.1, 2.6, 1.5, 1.1]
    path = tmp_path / "months.csv"
    path.write_text("month,et0\n" + "\n".join(f"{m},{v}" for m, v in enumerate(months, 1)))
    with pytest.raises(InputProblem, match="line 8: 500 mm"):
        read_climate(path, 45.0, 100.0)
    totals = [30 * v for v in (1.2, 1.9, 2.8, 4.0, 5.1, 6.2, 6.5, 5.9, 4.1, 2.6, 1.5, 1.1)]
    path.write_text("month,et0\n" + "\n".join(f"{m},{v}" for m, v in enumerate(totals, 1)))
    climate = read_climate(path, 45.0, 100.0)
    assert climate.et0_mm_day[5] == pytest.approx(6.2)
    assert "monthly totals" in climate.source


def test_how_warm_months_are_is_kept_for_the_days_of_planting(tmp_path):
    lines = ["date,tmin,tmax"]
    days = [datetime.date(2025, m, d) for m in range(1, 13) for d in (5, 20)]
    lines += [f"{day.isoformat()},{day.month},{2 * day.month + day.day / 10}" for day in days]
    path = tmp_path / "days.csv"
    path.write_text("\n".join(lines))
    warm = read_climate(path, 45.0, 100.0).warm_c
    assert warm == tuple(pytest.approx(2 * m + 1.25, abs=0.051) for m in range(1, 13))
