"""The median and the quantile of readings are numpy's own numbers, to the last bit."""

import math

import numpy as np
import pytest

from decay.arrays import median, quantile

RNG = np.random.default_rng(5)
VALUES = [made for count in (1, 2, 3, 4, 5, 8, 31, 500) for made in (
    RNG.normal(size=count), np.round(3.0 * RNG.normal(size=count)), 10.0 ** RNG.uniform(-200.0, 200.0, count))]


@pytest.mark.parametrize("values", VALUES, ids=lambda values: str(len(values)))
def test_median_and_quantile_are_numpys(values):
    before = values.copy()
    assert median(values) == np.median(values)
    for share in (0.0, 0.1, 0.5, 0.9, 0.99, 1.0):
        assert quantile(values, share) == np.quantile(values, share)
    np.testing.assert_array_equal(values, before)


def test_what_is_no_number_has_no_middle():
    assert math.isnan(median(np.zeros(0)))
    for values in VALUES:
        spoilt = np.append(values, np.nan)
        assert math.isnan(median(spoilt))
        assert math.isnan(quantile(spoilt, 0.1))


def test_a_median_of_counts_may_lie_between_two():
    assert median(np.array([4, 1, 2, 3])) == 2.5
