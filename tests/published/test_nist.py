"""The exponential fit against NIST's certified nonlinear regressions, from both of NIST's starting points.

Source: NIST Statistical Reference Datasets, nonlinear regression (Misra1a, BoxBOD, MGH17, Lanczos3). Only the rates'
starting values are used: our fit needs none for the linear coefficients.
"""

from __future__ import annotations

import numpy as np
import pytest

from decay.fit.exponentials import fit_exponentials

from .tables import rows

# Dataset: its coefficients and its rates by NIST's names, in our order, and our model's shape.
MODELS = {
    "Misra1a": (["b1"], ["b2"], {"saturating": True}),
    "BoxBOD": (["b1"], ["b2"], {"saturating": True}),
    "MGH17": (["b1", "b2", "b3"], ["b4", "b5"], {"constant": True}),
    "Lanczos3": (["b1", "b3", "b5"], ["b2", "b4", "b6"], {}),
}
SIX_DIGITS = 5e-7


def certified(dataset: str) -> dict[str, dict[str, float]]:
    return {
        row["parameter"]: {key: float(row[key]) for key in ("start_1", "start_2", "certified", "standard_deviation")}
        for row in rows("nist_certified.csv")
        if row["dataset"] == dataset
    }


@pytest.mark.parametrize("start", ["start_1", "start_2"])
@pytest.mark.parametrize("dataset", MODELS)
def test_certified_values_and_standard_deviations(dataset: str, start: str) -> None:
    coefficients, rates, shape = MODELS[dataset]
    truth = certified(dataset)
    data = rows(f"nist_{dataset.lower()}.csv")
    x = np.array([float(row["x"]) for row in data])
    y = np.array([float(row["y"]) for row in data])
    fit = fit_exponentials(x, y, np.array([truth[name][start] for name in rates]), **shape)
    # The order of the exponentials is the search's own: sort both sides by rate.
    if len(rates) > 1:
        order = np.argsort(fit.rates)
        rates = sorted(rates, key=lambda name: truth[name]["certified"])
        fixed = len(coefficients) - len(rates)
        by_rate = dict(zip(MODELS[dataset][1], coefficients[fixed:], strict=True))
        names = [*coefficients[:fixed], *(by_rate[name] for name in rates), *rates]
        positions = [*range(fixed), *(fixed + order), *(len(coefficients) + order)]
    else:
        names, positions = [*coefficients, *rates], list(range(2))
    values = np.concatenate((fit.coefficients, fit.rates))[positions]
    errors = fit.standard_errors[positions]
    for name, value, error in zip(names, values, errors, strict=True):
        assert value == pytest.approx(truth[name]["certified"], rel=SIX_DIGITS), name
        assert error == pytest.approx(truth[name]["standard_deviation"], rel=SIX_DIGITS), name
