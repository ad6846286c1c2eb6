"""``python -m kitchen sweep`` does by itself what workers and beat do, but for plans."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.core.management import call_command

from kitchen.celery import app
from kitchen.hooks.actions import add_hook
from kitchen.hooks.models import Telling
from kitchen.hooks.telling import Refused
from kitchen.planning.tasks import tend_jobs
from tests.factories.canner_runs import make_beans_out
from tests.factories.sites import make_site


@pytest.mark.django_db
def test_everything_whose_time_has_come_is_done(monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[str] = []
    app.loader.import_default_modules()
    turns = {str(turn["task"]) for turn in settings.CELERY_BEAT_SCHEDULE.values()}
    for name in turns - {"kitchen.reminders.tasks.sweep_due"}:
        monkeypatch.setattr(app.tasks[name], "run", lambda name=name: done.append(name))
    call_command("sweep")
    assert set(done) == turns - {"kitchen.reminders.tasks.sweep_due", tend_jobs.name}
    assert len(done) == len(set(done))


@pytest.mark.django_db
def test_programs_are_told_right_after_people(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a hook's trial: nothing of it goes out of this machine, for the address leads to the machine itself."""
    site = make_site()
    make_beans_out(site)
    hook = add_hook(kitchen=site.kitchen, address="https://localhost/jars", actor=site.lead).hook
    call_command("sweep")
    told = Telling.objects.filter(hook=hook)
    assert max(one.attempts for one in told) == 1
    assert Refused(reason="localhost is not on the open internet.").reason in {
        one.last_failure for one in told
    }
