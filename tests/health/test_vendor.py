"""The chart library in the browser is the one that the Python package carries."""

import hashlib
from pathlib import Path

from plotly.offline import get_plotlyjs_version

VENDOR = Path("health/static/health/vendor")
SHA256 = "99784e3abfb07b142a15e521a439e6d9addceadb3f79553fd24c72774f0649ba"


def test_bundle_is_the_package_s_version_unchanged() -> None:
    """The digest is that of the file as published on the package registry of the library."""
    (bundle,) = VENDOR.glob("*.js")
    assert bundle.name == f"plotly-basic-{get_plotlyjs_version()}.min.js"
    assert hashlib.sha256(bundle.read_bytes()).hexdigest() == SHA256
