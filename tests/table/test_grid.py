"""The fast reader of dates and numbers against pandas, cell by cell, and what it must leave to the slow one."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from decay.table import grid

FORMS = ["%Y-%m-%d %H:%M:%S", "%d/%m/%Y %H:%M", "%m/%d/%y %I:%M:%S %p", "%Y%m%dT%H%M%S", "%d.%m.%Y %H:%M:%S.%f",
         "%d-%b-%Y %H:%M:%S", "%Y-%m-%d"]
MOMENTS = st.lists(st.datetimes(dt.datetime(1970, 1, 1), dt.datetime(2068, 12, 31)), min_size=1, max_size=20)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(MOMENTS, st.sampled_from(FORMS))
def test_against_pandas(moments, form):
    cells = [moment.strftime(form) for moment in moments]
    if form.endswith("%y %I:%M:%S %p"):  # two digits of the year are of this century here
        cells = [cell for cell, moment in zip(cells, moments, strict=True) if moment.year >= 2000]
        cells = cells or ["01/31/26 12:00:00 AM"]
    told = pd.to_datetime(pd.Series(cells), format=form).to_numpy(dtype="datetime64[us]").astype(np.int64) / 1e6
    found = grid.seconds_of(cells, form)
    assert found is not None
    np.testing.assert_allclose(found, told, atol=1e-6)


def test_zone_is_taken_off():
    found = grid.seconds_of(["2026-03-14T09:00:00+05:30", "2026-03-14T09:00:01+05:30"], "%Y-%m-%dT%H:%M:%S%z")
    assert found is not None
    assert found.tolist() == [1773459000.0, 1773459001.0]


@pytest.mark.parametrize(("cells", "form"), [
    (["2026-02-29 10:00"], "%Y-%m-%d %H:%M"), (["2026-13-01 10:00"], "%Y-%m-%d %H:%M"), (["24:00:00"], "%H:%M:%S"),
    (["10:60:00"], "%H:%M:%S"), (["13:00:00 PM"], "%I:%M:%S %p"), (["00:00:00 AM"], "%I:%M:%S %p"),
    (["10:00:00 XM"], "%I:%M:%S %p"), (["10:00:00", "9:00:00"], "%H:%M:%S"), (["10:00:00", "10-00-00"], "%H:%M:%S"),
    (["10:00:00", "10:0a:00"], "%H:%M:%S"), (["10:00:00", ""], "%H:%M:%S"), (["10:00:0٣"], "%H:%M:%S"),
    ([], "%H:%M:%S"),
    (["10:00:00", float("nan")], "%H:%M:%S"), (["1:00:00", "110:000"], "%H:%M:%S"),
    (["2026-03-14 09:00:00+02:00", "2026-03-14 09:00:00+01:00"], "%Y-%m-%d %H:%M:%S%z"),
    (["03-Aux-2026 10:00"], "%d-%b-%Y %H:%M"), (["30-Feb-2026 10:00"], "%d-%b-%Y %H:%M"),
    (["03-August-2026 10:00"], "%d-%B-%Y %H:%M"),
])  # fmt: skip
def test_left_to_the_slow_reader(cells, form):
    assert grid.seconds_of(cells, form) is None
