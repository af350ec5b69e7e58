"""How hard hypothesis looks: the same examples at every run, many new ones by `make long`; and what goes first."""

import os

import pytest
from hypothesis import settings

# No deadline: a slow machine is no failed property.
settings.register_profile("default", derandomize=True, deadline=None, max_examples=40)
settings.register_profile("long", deadline=None, max_examples=2000, print_blob=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "default"))

_LONGEST = ("trials", "functional", "browser", "test_purity", "test_arrivals_properties")
"""Where the files are that take a core the longest: they go first, so that the other core is not waited for."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the longest files first; within a file nothing moves."""
    items.sort(key=lambda item: next((n for n, name in enumerate(_LONGEST) if name in item.nodeid), len(_LONGEST)))
