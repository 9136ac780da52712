"""What holds for every test: nobody's own record is touched, and chance can be repeated where CI runs it."""

import os
import tempfile

from hypothesis import settings

from widgets.learn.consent import KEEP_VARIABLE
from widgets.learn.record import FOLDER_VARIABLE

settings.register_profile("ci", derandomize=True, deadline=None, print_blob=True)
settings.register_profile("desk", deadline=None)


def pytest_configure(config):
    """A record folder of this run's own, handed on to the kernels that run the lessons."""
    settings.load_profile("ci" if os.environ.get("CI") else "desk")
    folder = tempfile.TemporaryDirectory(prefix="loopbook-tests-")
    os.environ[FOLDER_VARIABLE] = folder.name
    os.environ[KEEP_VARIABLE] = "yes"     # the learner of this run has agreed; who has not is in test_consent.py
    config.add_cleanup(folder.cleanup)
