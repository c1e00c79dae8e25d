"""Weather files: time labels checked by the sun itself, nonsense refused with its line."""

from pathlib import Path

import numpy as np
import pvlib
import pytest
from numpy.testing import assert_allclose
from samples import sample

from routesolar.errors import InputError
from routesolar.files.weather import read_weather
from routesolar.physics.sky import extraterrestrial_wm2
from routesolar.physics.sun import sun_position

WHEEL = Path(pvlib.__file__).parent / "data"
HEAD = "time,latitude_deg,longitude_deg,ghi_wm2\n"


def hours_error_wm2(weather, label_utc_s, level_wm2, to_middle_s):
    """Greatest difference of a file's own extraterrestrial level irradiance from ours, if labels stand so."""
    year_s = (
        np.datetime64(int(label_utc_s[0]), "s").astype("datetime64[Y]").astype("datetime64[s]").astype(float)
    )
    row = np.searchsorted(weather.time_utc_s, label_utc_s - year_s + to_middle_s - 60)
    assert_allclose(weather.time_utc_s[row], label_utc_s - year_s + to_middle_s)
    moments = year_s + weather.time_utc_s[row, None] + (np.arange(60) - 29.5) * 60
    sun = sun_position(weather.latitude_deg, weather.longitude_deg, np.zeros(1), moments.reshape(-1, 1))
    ours = extraterrestrial_wm2(sun.earth_sun_au) * np.sin(np.radians(np.maximum(sun.elevation_deg, 0)))
    return np.abs(ours.reshape(len(row), 60).mean(axis=1) - level_wm2).max()


def test_a_tmy3_hour_ends_at_its_label():
    # The file's own column of extraterrestrial irradiance says which hour is meant. Greensboro, 15 June.
    path = WHEEL / "723170TYA.CSV"
    weather = read_weather(path)
    assert weather.typical and weather.step_s == weather.averaged_s == 3600
    data, _ = pvlib.iotools.read_tmy3(path, map_variables=True)
    data = data[np.asarray((data.index.month == 6) & (data.index.day == 15))]
    ends_utc_s, level_wm2 = data.index.tz_convert("UTC").as_unit("s").asi8, data.ghi_extra.to_numpy()
    assert hours_error_wm2(weather, ends_utc_s, level_wm2, -1800) < 15
    assert hours_error_wm2(weather, ends_utc_s, level_wm2, 1800) > 150


@pytest.mark.download
def test_an_epw_hour_ends_at_its_label():
    # The same column in an EPW; pvlib's index is the hour's start. Amsterdam, 15 June.
    path = sample("pvlib", "tests/data/NLD_Amsterdam062400_IWEC.epw")
    weather = read_weather(path)
    assert weather.typical and weather.elevation_m.tolist() == [-2.0]
    data, _ = pvlib.iotools.read_epw(path)
    data = data[np.asarray((data.month == 6) & (data.day == 15))]
    starts_utc_s, level_wm2 = data.index.tz_convert("UTC").as_unit("s").asi8, data.etr.to_numpy()
    assert hours_error_wm2(weather, starts_utc_s, level_wm2, 1800) < 15
    assert hours_error_wm2(weather, starts_utc_s, level_wm2, -1800) > 150


@pytest.mark.download
@pytest.mark.parametrize("name", ["test_read_psm3.csv", "test_read_psm4.csv"])
def test_an_nsrdb_label_is_the_moment_itself(name):
    # The file's own solar zenith angle, of that moment.
    path = sample("pvlib", f"tests/data/{name}")
    weather = read_weather(path)
    assert not weather.typical and weather.averaged_s == 0
    data, _ = pvlib.iotools.read_nsrdb_psm4(path)
    rows = slice(8000, 8096)
    sun = sun_position(
        weather.latitude_deg, weather.longitude_deg, weather.elevation_m, weather.time_utc_s[rows, None]
    )
    up = sun.elevation_deg[:, 0] > 5
    error = 90 - sun.elevation_deg[up, 0] - data.solar_zenith.to_numpy()[rows][up]
    assert np.abs(error).max() < 0.15  # half a step, a quarter of an hour, would be about 3 degrees


@pytest.mark.download
def test_a_cams_step_is_taken_at_its_middle():
    # The file's own zenith angle "for the middle of the summarization".
    path = sample("pvlib", "tests/data/cams_radiation_1min_verbose.csv")
    weather = read_weather(path)
    data, _ = pvlib.iotools.read_cams(path)
    sun = sun_position(
        weather.latitude_deg, weather.longitude_deg, weather.elevation_m, weather.time_utc_s[:, None]
    )
    assert_allclose(90 - sun.elevation_deg[:, 0], data.solar_zenith, atol=0.01)
    assert_allclose(weather.ghi_wm2[:, 0], data.ghi)


@pytest.mark.download
def test_three_kinds_of_file_of_one_typical_year_say_the_same():
    # PVGIS, 45 N 8 E: table, JSON and EPW, whose rows are UTC although its head says UTC+1.
    one, two, three = (
        read_weather(sample("pvlib", f"tests/data/tmy_45.000_8.000_2005_2023.{kind}"))
        for kind in ("csv", "json", "epw")
    )
    for other in (two, three):
        assert_allclose(other.time_utc_s, one.time_utc_s)
        assert_allclose(other.ghi_wm2, one.ghi_wm2)
        assert_allclose(other.air_c, one.air_c)
    # "Irradiance Time Offset (h): 0.1761" in its head.
    assert one.time_utc_s[0] == pytest.approx(0.1761 * 3600)


@pytest.mark.download
def test_hours_on_a_tilted_plane_are_refused():
    path = sample("pvlib", "tests/data/pvgis_hourly_Timeseries_45.000_8.000_SA_30deg_0deg_2016_2016.csv")
    with pytest.raises(InputError, match="slope 0"):
        read_weather(path)


def test_our_own_table_in_any_order_with_any_columns(tmp_path):
    path = tmp_path / "along.csv"
    path.write_text(
        "time, latitude_deg, longitude_deg, air_c, cloud_frac\n"
        "2026-11-20T08:00+11:00,-42.9,147.3,16,\n"
        "2026-11-20T07:00+11:00,-42.9,147.3,14.5,0.4\n"
        "2026-11-19T20:00Z,-41.4,147.1,,0.9\n"
    )
    weather = read_weather(path)
    assert not weather.typical and weather.step_s == weather.averaged_s == 3600
    assert weather.latitude_deg.tolist() == [-42.9, -41.4]
    # 07:00+11:00 is 20:00Z of the day before; the row stands for the hour that follows.
    assert weather.time_utc_s.tolist() == [1_795_120_200.0, 1_795_123_800.0]
    assert_allclose(weather.cloud_frac, [[0.4, 0.9], [np.nan, np.nan]])
    assert_allclose(weather.air_c, [[14.5, np.nan], [16, np.nan]])


def test_a_place_has_one_height_said_once_or_in_every_row(tmp_path):
    path = tmp_path / "valley.csv"
    path.write_text(
        "time,latitude_deg,longitude_deg,elevation_m,ghi_wm2\n"
        "2026-06-20T08:00Z,46.5,11.35,262,100\n"
        "2026-06-20T09:00Z,46.5,11.35,,200\n"
        "2026-06-20T08:00Z,46.0,7.75,,100\n"
    )
    assert_allclose(read_weather(path).elevation_m, [np.nan, 262])


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            HEAD.replace("ghi_wm2", "elevation_m,ghi_wm2")
            + "2026-11-20T07:00Z,0,0,100,5\n2026-11-20T08:00Z,0,0,110,5\n",
            "line 3: elevation_m is 110, but 100 in line 2",
        ),
        (
            HEAD.replace("ghi_wm2", "elevation_m,ghi_wm2")
            + "2026-11-20T07:00Z,0,0,33000,5\n2026-11-20T08:00Z,0,0,,5\n",
            "line 2: elevation_m is 33000.*metres above sea level",
        ),
        (HEAD.replace("ghi_wm2", "elevation_m") + "2026-11-20T07:00Z,0,0,5\n", "at least one of"),
        (HEAD + "2026-11-20T07:00,0,0,100\n2026-11-20T08:00Z,0,0,1\n", r"line 2: .* has no offset from UTC"),
        (HEAD + "20 Nov,0,0,100\n2026-11-20T08:00Z,0,0,1\n", r'line 2: "20 Nov" is not a time'),
        (HEAD + "2026-11-20T07:00Z,0,0,100\n2026-11-20T07:00Z,0,0,1\n", "line 3 repeats .* of line 2"),
        (HEAD + "2026-11-20T07:00Z,0,0,100\n", "one time only"),
        (HEAD + "2026-11-20T07:00Z,0,0,1e3x\n2026-11-20T08:00Z,0,0,1\n", r'line 2: ghi_wm2 is "1e3x"'),
        (HEAD + "2026-11-20T07:00Z,0,0,nan\n2026-11-20T08:00Z,0,0,1\n", "not a number"),
        (
            HEAD + "2026-11-20T07:00Z,0,0,5000\n2026-11-20T08:00Z,0,0,1\n",
            "line 2: ghi_wm2 is 5000, which is not in",
        ),
        (HEAD + "2026-11-20T07:00Z,0,0,5\n2026-11-20T08:00Z,91,0,1\n", "line 3: latitude_deg is 91"),
        (HEAD, "weather for no time"),
        (HEAD.replace(",", ";") + "2026-11-20T07:00Z;0;0;5\n", "line 1: .*separate the columns with commas"),
        (HEAD + '2026-11-20T07:00Z,0,0,"' + "5" * 200_000, "line 2 is not valid CSV"),
        (
            HEAD.replace("ghi_wm2", "air_c") + "2026-11-20T07:00Z,0,0,5\n2026-11-20T08:00Z,0,0,288\n",
            "line 3: air_c is 288.*give degrees Celsius",
        ),
        (
            HEAD.replace("ghi_wm2", "wind_mps") + "2026-11-20T07:00Z,0,0,200\n",
            "line 2: wind_mps is 200.*metres per second",
        ),
        (HEAD + "2026-11-20T07:00Z,0,0\n2026-11-20T08:00Z,0,0,1\n", "line 2 does not have the 4 values"),
        (
            HEAD.replace("ghi_wm2", "ghi") + "2026-11-20T07:00Z,0,0,5\n",
            '"ghi" is not known; did you mean ghi_wm2',
        ),
        (HEAD.replace(",ghi_wm2", "") + "2026-11-20T07:00Z,0,0\n", "at least one of"),
        (HEAD.replace("ghi_wm2", "dni_wm2") + "2026-11-20T07:00Z,0,0,5\n2026-11-20T08:00Z,0,0,1\n", "alone"),
        (HEAD + "2026-11-20T07:00Z,0,0,\n2026-11-20T08:00Z,0,0,\n", "holds no values"),
        (
            HEAD.replace("ghi_wm2", "cloud_frac") + "2026-11-20T07:00Z,0,0,40\n2026-11-20T08:00Z,0,0,1\n",
            "write 40 % as 0.40",
        ),
        ("<html>\n<body>no weather</body>", "not a known weather format"),
        ("LOCATION,Nowhere\n" + "1," * 20_000, "a line of 40,000 letters"),
        ("LOCATION,Nowhere\n1,2,3\n", "looks like a EPW file, but cannot be read as one"),
        ("", "empty"),
        ("\x1d\v", "not a known weather format"),
    ],
)
def test_a_bad_table_is_refused_with_its_line(tmp_path, text, message):
    path = tmp_path / "weather.csv"
    path.write_text(text)
    with pytest.raises(InputError, match=message):
        read_weather(path)


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_lines_may_end_as_any_computer_ends_them(tmp_path, ending):
    path = tmp_path / "weather.csv"
    path.write_bytes(
        (HEAD + "2026-11-20T07:00Z,0,0,5\n2026-11-20T08:00Z,0,0,6\n").replace("\n", ending).encode()
    )
    assert read_weather(path).ghi_wm2[:, 0].tolist() == [5, 6]


def test_a_missing_file_and_a_short_typical_year_are_refused(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        read_weather(tmp_path / "none.csv")
    short = tmp_path / "short.csv"
    short.write_text("".join((WHEEL / "723170TYA.CSV").read_text().splitlines(keepends=True)[:500]))
    with pytest.raises(InputError, match="must be complete; this one has 498 of 8760"):
        read_weather(short)


@pytest.mark.download
@pytest.mark.parametrize(
    "name", ["test_read_psm4.csv", "cams_radiation_1min_verbose.csv", "tmy_45.000_8.000_2005_2023.json"]
)
@pytest.mark.parametrize("length", [20, 60, 400, 1200])
def test_a_file_cut_short_gives_one_message(tmp_path, name, length):
    path = tmp_path / name
    path.write_bytes(sample("pvlib", f"tests/data/{name}").read_bytes()[:length])
    with pytest.raises(InputError, match=name):
        read_weather(path)


def test_rows_that_follow_a_vehicle_are_one_moving_place(tmp_path):
    path = tmp_path / "along.csv"
    rows = [f"2026-11-20T07:{minute:02d}Z,{-42 - minute / 100},147.3,{minute}" for minute in range(60)]
    path.write_text("time,latitude_deg,longitude_deg,air_c\n" + "\n".join(rows))
    weather = read_weather(path)
    assert weather.moving and weather.air_c.shape == (60, 1)
    assert_allclose(weather.latitude_deg, -42 - np.arange(60) / 100)
    assert_allclose(weather.air_c[:, 0], np.arange(60))
    # Two stations that report in turn do not move.
    rows = [f"2026-11-20T07:{minute:02d}Z,{-42 - minute % 2},147.3,{minute}" for minute in range(60)]
    path.write_text("time,latitude_deg,longitude_deg,air_c\n" + "\n".join(rows))
    assert not read_weather(path).moving
    assert read_weather(path).air_c.shape == (60, 2)


def test_more_places_than_fit_into_memory_are_refused_in_words(tmp_path):
    path = tmp_path / "world.csv"
    rows = [f"2026-11-20T0{hour}:00Z,{place / 100},8,5" for place in range(2001) for hour in range(2)]
    path.write_text("time,latitude_deg,longitude_deg,air_c\n" + "\n".join(rows))
    with pytest.raises(InputError, match="2,001 places at 2 times; the most are 2,000 places"):
        read_weather(path)
