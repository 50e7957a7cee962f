"""Commands are asked what they do with an answer: the tests ahead of it and its picture are made once for all."""

import pytest


@pytest.fixture(autouse=True)
def made_once(followed_up_once, drawn_once):
    """Make what takes longest once."""
