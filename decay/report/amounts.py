"""The former name of `decay.wording`."""

from decay.wording.numbers import *  # noqa: F403
