"""The site of the register's pages: for those with the right to change limits."""

from typing import Any

from django.contrib.admin import AdminSite
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import resolve_url
from django.utils.translation import gettext_lazy as _

from station.access import may

RIGHT = "limits"


class RegisterSite(AdminSite):
    site_header = _("Register")
    site_title = _("Register")
    index_title = _("What the station has")
    enable_nav_sidebar = False

    def has_permission(self, request: HttpRequest) -> bool:
        return may(request.user, RIGHT)

    def login(
        self, request: HttpRequest, extra_context: dict[str, Any] | None = None
    ) -> HttpResponse:
        """There is one way in; who is in without the right is refused."""
        if request.user.is_authenticated:
            raise PermissionDenied
        return redirect_to_login(request.get_full_path(), resolve_url("sign_in"))


site = RegisterSite()
