"""One analysis of each kind that a report has to show."""

from __future__ import annotations

import pytest

from decay.analysis import Analysis
from tests.report.factories import EVERY


@pytest.fixture(params=EVERY, ids=lambda make: make.__name__)
def made(request: pytest.FixtureRequest) -> Analysis:
    """Return an analysis made of invented numbers."""
    return request.param()
