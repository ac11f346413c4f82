"""Pages for editing the register; the log has none, it is written once."""

from station.admin import people, register, versions
from station.admin.site import site

__all__ = ["people", "register", "site", "versions"]
