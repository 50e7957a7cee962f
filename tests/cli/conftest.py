"""Commands are asked what they do with an answer: it and its picture are made once for all."""

import pytest


@pytest.fixture(autouse=True)
def made_once(answered_once, drawn_once):
    """Make what takes longest once."""
