"""The settings of a test run: the product's own, in a throw-away data folder, one for each worker."""

import atexit
import os
import shutil
import tempfile

_folder = tempfile.mkdtemp(prefix="workshop-test-")
_owner = os.getpid()
os.environ["WORKSHOP_DATA"] = _folder
os.environ.setdefault("WORKSHOP_LOG", "readable")
for _name in ("WORKSHOP_DEMO", "WORKSHOP_DEBUG", "WORKSHOP_HTTPS", "WORKSHOP_HOSTS"):
    os.environ.pop(_name, None)

from workshop.settings import *  # noqa: E402, F403
from workshop.settings import DATABASES, STATIC_ROOT, STORAGES, WORKSHOP_DATA  # noqa: E402


@atexit.register
def _sweep() -> None:
    if os.getpid() == _owner:
        shutil.rmtree(_folder, ignore_errors=True)


if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # A file, as in the shop: an in-memory database would hide every question of locking.
    DATABASES["default"]["TEST"] = {"NAME": WORKSHOP_DATA / "test.sqlite3"}

# One test asks the real, manifest-made storage for every page's files (tests/test_static.py); the others need none.
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}

# Strong hashing costs a quarter of a second a person, and no law of the shop rests on it.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

# Whitenoise warns of a folder that is not there, and a fresh clone has none.
STATIC_ROOT.mkdir(exist_ok=True)
