"""Minutes of irradiance as measured, out of the pvlib source package: ghi, dni and dhi in W/m2 by UTC."""

import pandas as pd
import pvlib

from tests.samples import sample

# Latitude, longitude, height in metres.
PAYERNE = (46.815, 6.944, 491.0)
ALAMOSA = (37.70, -105.92, 2317.0)
TUCSON = (32.22969, -110.95534, 786.0)  # from memory of the station's page; not in the file
# Of the station's two pyranometers the one that pvlib takes for ghi; the other reads 2 % more.
TUCSON_COLUMNS = {
    "Global Horiz (platform)": "ghi",
    "Direct Normal": "dni",
    "Diffuse Horiz": "dhi",
}


def payerne_june() -> pd.DataFrame:
    """Return June 2016 at Payerne (Baseline Surface Radiation Network)."""
    june, _ = pvlib.iotools.read_bsrn(sample("pvlib", "tests/data/bsrn-pay0616.dat.gz"))
    return june


def alamosa_day() -> pd.DataFrame:
    """Return 2016-01-01 at Alamosa (Surface Radiation budget network of NOAA)."""
    minutes, _ = pvlib.iotools.read_surfrad(sample("pvlib", "tests/data/surfrad-slv16001.dat"))
    return minutes


def tucson_day() -> pd.DataFrame:
    """Return 2018-10-18 at Tucson (University of Arizona, in NREL's data center of measurements)."""
    raw = pd.read_csv(sample("pvlib", "tests/data/midc_raw_20181018.txt"))
    minute = pd.to_timedelta(raw["MST"] // 100 * 60 + raw["MST"] % 100, unit="min")
    columns = {f"{full} [W/m^2]": short for full, short in TUCSON_COLUMNS.items()}
    named = raw.rename(columns=columns)[list(columns.values())]
    return named.set_index(pd.Timestamp("2018-10-18 07:00", tz="UTC") + minute)
