"""The former name of `decay.wording.charset`."""

from decay.wording.charset import *  # noqa: F403
