"""How hard hypothesis looks: the same examples at every run by default, many new ones by `make long`."""

import os

from hypothesis import settings

# No deadline: a slow machine is no failed property.
settings.register_profile("default", derandomize=True, deadline=None, max_examples=60)
settings.register_profile("long", deadline=None, max_examples=2000, print_blob=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "default"))
