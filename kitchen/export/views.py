"""The pages on which data is taken out."""

from __future__ import annotations

from django.http import FileResponse, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from kitchen.export.actions import export_kitchen
from kitchen.export.tables import of_kitchen
from kitchen.export.writing import as_json, data_of
from kitchen.members.pages import kitchen_for, person
from kitchen.members.rules import Deed


@require_http_methods(["GET", "HEAD", "POST"])
def everything(request: HttpRequest, kitchen: str) -> HttpResponseBase:
    """What there is to take; a press makes the file."""
    here = kitchen_for(request, kitchen, Deed.EXPORT_KITCHEN)
    if request.method != "POST":
        return render(request, "export/kitchen.html", {"kitchen": here, "tables": of_kitchen()})
    now = timezone.now()
    file = export_kitchen(kitchen=here, actor=person(request), now=now)
    name = f"{here.slug}-{now.astimezone(here.zone):%Y-%m-%d}.zip"
    return FileResponse(file, as_attachment=True, filename=name, content_type="application/zip")


@require_safe
def mine(request: HttpRequest) -> HttpResponse:
    """What is known of me, in all kitchens."""
    response = HttpResponse(as_json(data_of(person(request))), content_type="application/json")
    response["Content-Disposition"] = 'attachment; filename="about-me.json"'
    return response
