"""Every address of Benchlast: one include per app."""

from __future__ import annotations

from django.urls import include, path

handler400 = "core.web.views.bad_request"
handler403 = "core.web.views.forbidden"
handler404 = "core.web.views.not_found"
handler500 = "core.web.views.server_error"

urlpatterns = [
    path("", include("core.urls")),
    path("", include("catalogue.urls")),
    path("lab/", include("labtests.urls")),
    path("fittings/", include("fittings.urls")),
    path("outcomes/", include("fittings.outcome_urls")),
    path("f/", include("fittings.customer_urls")),
    path("start/", include("fittings.start_urls")),
    path("api/catalogue/", include("catalogue.api_urls")),
    path("api/lab/", include("labtests.api_urls")),
    path("api/", include("fittings.api_urls")),
]
