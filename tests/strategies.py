"""The suite's strategies are the kit's: this name is kept for tests that say `from strategies import ...`."""

from chipsim.testing.strategies import *  # noqa: F403
