"""Addresses of the first version."""

from __future__ import annotations

from django.urls import path

from kitchen.api.v1.adding import Adding
from kitchen.api.v1.again import Again
from kitchen.api.v1.audit import Audit
from kitchen.api.v1.batches import Batches
from kitchen.api.v1.booking import Holds, Slots, Times
from kitchen.api.v1.days import Days, Loads
from kitchen.api.v1.equipment import Canners
from kitchen.api.v1.export import MyData, WholeKitchen
from kitchen.api.v1.floor import Floor
from kitchen.api.v1.hooks import Hooks, Tellings
from kitchen.api.v1.intake_table import Tables
from kitchen.api.v1.kitchens import Kitchens, Members, OneKitchen
from kitchen.api.v1.labels import Labels
from kitchen.api.v1.notices import Feeds, Notices
from kitchen.api.v1.opening import Opening
from kitchen.api.v1.plans import Jobs
from kitchen.api.v1.processes import Foods, Processes
from kitchen.api.v1.records import Records
from kitchen.api.v1.rota import Hours, Shifts
from kitchen.api.v1.seals import Portions
from kitchen.api.v1.swaps import Offers
from kitchen.api.v1.waiting import WaitingList
from kitchen.api.v1.wishes import WishesOf

_K = "kitchens/<uuid:kitchen>"
_DAY, _LOAD, _JOB = f"{_K}/days/<uuid:day>", f"{_K}/loads/<uuid:load>", f"{_K}/plan-jobs/<uuid:job>"
_BATCH, _PORTION = f"{_K}/batches/<uuid:batch>", f"{_K}/portions/<uuid:portion>"
_SHIFT, _OFFER = f"{_K}/shifts/<uuid:shift>", f"{_K}/swap-offers/<uuid:offer>"
_CANNER = f"{_K}/canners/<uuid:canner>"

urlpatterns = [
    path("processes", Processes.as_view()),
    path("foods", Foods.as_view()),
    path("kitchens", Kitchens.as_view({"get": "list"})),
    path(_K, OneKitchen.as_view({"get": "retrieve", "patch": "partial_update"})),
    path(f"{_K}/members", Members.as_view({"get": "list"})),
    path(f"{_K}/batches", Batches.as_view({"get": "list", "post": "create"})),
    path(_BATCH, Batches.as_view({"get": "retrieve", "patch": "partial_update", "delete": "destroy"})),
    path(f"{_BATCH}/arrival", Batches.as_view({"post": "arrival"})),
    path(f"{_BATCH}/labels", Labels.as_view({"get": "of_batch"})),
    path(f"{_K}/intake-table", Tables.as_view({"post": "create"})),
    path(f"{_K}/intake-table/check", Tables.as_view({"post": "check"})),
    path(f"{_K}/estimate", Batches.as_view({"get": "estimate"})),
    path(f"{_K}/days", Days.as_view({"get": "list", "post": "create"})),
    path(_DAY, Days.as_view({"get": "retrieve", "patch": "partial_update"})),
    path(f"{_DAY}/close", Days.as_view({"post": "close"})),
    path(f"{_DAY}/board", Floor.as_view({"get": "board"})),
    path(f"{_DAY}/plan", Jobs.as_view({"get": "published"})),
    path(f"{_DAY}/plan-jobs", Jobs.as_view({"get": "list", "post": "create"})),
    path(f"{_DAY}/hours", Hours.as_view({"post": "create"})),
    path(f"{_DAY}/wanted", Shifts.as_view({"post": "want"})),
    path(_JOB, Jobs.as_view({"get": "retrieve"})),
    path(f"{_JOB}/stop", Jobs.as_view({"post": "stop"})),
    path(f"{_JOB}/publish", Jobs.as_view({"post": "publish"})),
    path(f"{_JOB}/plan", Jobs.as_view({"get": "plan"})),
    path(f"{_K}/loads", Loads.as_view({"get": "list"})),
    path(_LOAD, Loads.as_view({"get": "retrieve"})),
    path(f"{_LOAD}/record", Floor.as_view({"get": "record", "post": "press"})),
    path(f"{_LOAD}/decision", Floor.as_view({"post": "decide"})),
    path(f"{_K}/lines/<int:line>/correction", Floor.as_view({"post": "correct"})),
    path(f"{_K}/lines/<int:line>/withdrawal", Floor.as_view({"post": "withdraw"})),
    path(f"{_K}/times", Times.as_view({"get": "search"})),
    path(f"{_K}/holds", Holds.as_view({"post": "create"})),
    path(f"{_K}/holds/<uuid:hold>", Holds.as_view({"get": "retrieve", "delete": "destroy"})),
    path(f"{_K}/slots", Slots.as_view({"get": "list", "post": "create"})),
    path(f"{_K}/slots/<uuid:slot>", Slots.as_view({"get": "retrieve", "delete": "destroy"})),
    path(f"{_K}/portions", Portions.as_view({"get": "list"})),
    path(_PORTION, Portions.as_view({"get": "retrieve"})),
    path(f"{_PORTION}/count", Portions.as_view({"post": "count"})),
    path(f"{_PORTION}/decline", Portions.as_view({"post": "decline"})),
    path(f"{_PORTION}/labels", Labels.as_view({"get": "of_portion"})),
    path(f"{_K}/shifts", Shifts.as_view({"get": "list"})),
    path(_SHIFT, Shifts.as_view({"get": "retrieve", "delete": "destroy"})),
    path(f"{_SHIFT}/take", Shifts.as_view({"post": "take"})),
    path(f"{_SHIFT}/give-back", Shifts.as_view({"post": "give_back"})),
    path(f"{_SHIFT}/hand-over", Shifts.as_view({"post": "hand_over"})),
    path(f"{_SHIFT}/offer", Offers.as_view({"post": "create"})),
    path(f"{_K}/swap-offers", Offers.as_view({"get": "list"})),
    path(_OFFER, Offers.as_view({"get": "retrieve", "delete": "destroy"})),
    path(f"{_OFFER}/accept", Offers.as_view({"post": "accept"})),
    path(f"{_K}/hours", Hours.as_view({"get": "list"})),
    path(f"{_K}/hours/<int:hours>", Hours.as_view({"get": "retrieve", "delete": "destroy"})),
    path(f"{_K}/canners", Canners.as_view({"get": "list", "post": "create"})),
    path(f"{_K}/burners", Adding.as_view({"post": "burner"})),
    path(f"{_K}/kettles", Adding.as_view({"post": "kettle"})),
    path(f"{_K}/cooling-tables", Adding.as_view({"post": "cooling_table"})),
    path(_CANNER, Canners.as_view({"get": "retrieve", "patch": "partial_update"})),
    path(f"{_CANNER}/gauge-checks", Canners.as_view({"post": "check_gauge"})),
    path(f"{_CANNER}/withdraw", Canners.as_view({"post": "withdraw"})),
    path(f"{_CANNER}/return", Canners.as_view({"post": "give_back"})),
    path(f"{_K}/equipment", Canners.as_view({"get": "equipment"})),
    path(f"{_K}/notices", Notices.as_view({"get": "list"})),
    path(f"{_K}/notices/<int:notice>/seen", Notices.as_view({"post": "see"})),
    path(f"{_K}/feeds", Feeds.as_view({"get": "list", "post": "create"})),
    path(f"{_K}/feeds/<int:feed>", Feeds.as_view({"get": "retrieve", "delete": "destroy"})),
    path(f"{_K}/hooks", Hooks.as_view({"get": "list", "post": "create"})),
    path(f"{_K}/hooks/<uuid:hook>", Hooks.as_view({"get": "retrieve", "delete": "destroy"})),
    path(f"{_K}/hooks/<uuid:hook>/secret", Hooks.as_view({"post": "secret"})),
    path(f"{_K}/hooks/<uuid:hook>/trial", Hooks.as_view({"post": "trial"})),
    path(f"{_K}/hook-messages", Tellings.as_view({"get": "list"})),
    path(f"{_K}/hook-messages/<uuid:telling>/again", Tellings.as_view({"post": "again"})),
    path(f"{_K}/opening-hours", Opening.as_view({"get": "list"})),
    path(f"{_K}/opening-hours/<int:weekday>", Opening.as_view({"get": "retrieve", "put": "update"})),
    path(f"{_K}/wishes", WishesOf.as_view({"get": "retrieve", "put": "update"})),
    path(f"{_K}/waiting", WaitingList.as_view({"get": "list", "post": "create"})),
    path(f"{_K}/waiting/<uuid:waiting>", WaitingList.as_view({"get": "retrieve", "delete": "destroy"})),
    path(f"{_LOAD}/signatures", Records.as_view({"get": "retrieve", "post": "sign"})),
    path(f"{_LOAD}/review", Records.as_view({"post": "review"})),
    path(f"{_PORTION}/again", Again.as_view({"get": "ways", "post": "create"})),
    path(f"{_K}/audit", Audit.as_view({"get": "list"})),
    path(f"{_K}/export", WholeKitchen.as_view({"post": "take"})),
    path(f"{_K}/my-data", MyData.as_view({"get": "read"})),
]
