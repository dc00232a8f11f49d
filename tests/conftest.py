"""What tests keep between runs goes to a folder of their own, not to the user's."""

import atexit
import os
import shutil
import tempfile

if "HIVEWEEK_CACHE" not in os.environ and "HIVEWEEK_NO_CACHE" not in os.environ:
    os.environ["HIVEWEEK_CACHE"] = tempfile.mkdtemp(prefix="hiveweek-")
    atexit.register(shutil.rmtree, os.environ["HIVEWEEK_CACHE"], True)
