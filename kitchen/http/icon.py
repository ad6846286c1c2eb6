"""The icon that browsers ask for by a name of their own choosing."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponseRedirect
from django.templatetags.static import static
from django.views.decorators.http import require_safe


@login_not_required
@require_safe
def favicon(request: HttpRequest) -> HttpResponseRedirect:
    """Leads to the icon among the static files."""
    return HttpResponseRedirect(static("kitchen/icon.svg"))
