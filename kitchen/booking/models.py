"""A time that was chosen and is held while its member confirms, and who waits for one on a full day."""

from __future__ import annotations

from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import Q

from kitchen.batches.models import MOST_JARS_IN_BATCH, Jar, Pack, Slot
from kitchen.equipment.models import CannerTime
from kitchen.members.models import Kitchen


class Hold(models.Model):
    """Canner time held for a member, with what is to be canned in it.

    ``canner_time`` says until when; nothing has to end it. ``arrives_at`` is what the times were reckoned from,
    ``comes_at`` when the work begins. ``let_go_at`` is when the member chose otherwise. ``slot`` is what became of it,
    ``replaces`` the slot that it would move. ``watcher`` is the trained person who was named for a member without
    training; who watches now stands on the rota.
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="+")
    member = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    canner_time = models.ForeignKey(CannerTime, on_delete=models.PROTECT, related_name="holds")
    food_id = models.CharField(max_length=60)
    pack = models.CharField(max_length=10, choices=Pack)
    jar = models.CharField(max_length=20, choices=Jar)
    jars = models.PositiveIntegerField()
    people = models.PositiveSmallIntegerField()
    arrives_at = models.DateTimeField()
    comes_at = models.DateTimeField()
    replaces = models.ForeignKey(Slot, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    let_go_at = models.DateTimeField(null=True, blank=True)
    slot = models.ForeignKey(Slot, null=True, blank=True, on_delete=models.PROTECT, related_name="holds")
    watcher = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints = (
            models.CheckConstraint(condition=Q(jars__range=(1, MOST_JARS_IN_BATCH)), name="hold_jars"),
            models.CheckConstraint(condition=Q(people__gte=1), name="hold_people"),
        )

    def __str__(self) -> str:
        return f"{self.canner_time} held for {self.member}"


class Waiting(models.Model):
    """A member who wants a time on a day that is full. ``told_at`` is when one came free and they were told, once;
    ``ended_at`` when they stopped waiting.
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="+")
    member = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    day = models.DateField()
    food_id = models.CharField(max_length=60)
    pack = models.CharField(max_length=10, choices=Pack)
    jar = models.CharField(max_length=20, choices=Jar)
    jars = models.PositiveIntegerField()
    people = models.PositiveSmallIntegerField()
    asked_at = models.DateTimeField()
    told_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("asked_at", "id")
        constraints = (
            models.UniqueConstraint(
                fields=("kitchen", "member", "day", "food_id", "pack", "jar"),
                condition=Q(told_at__isnull=True, ended_at__isnull=True),
                name="waiting_once",
            ),
            models.CheckConstraint(condition=Q(jars__range=(1, MOST_JARS_IN_BATCH)), name="waiting_jars"),
            models.CheckConstraint(condition=Q(people__gte=1), name="waiting_people"),
        )

    def __str__(self) -> str:
        return f"{self.member} waits for {self.day}"
