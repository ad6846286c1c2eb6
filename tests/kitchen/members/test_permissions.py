"""Who may do what: one table, every deed and every role."""

from __future__ import annotations

import pytest
from django.utils import timezone

from kitchen.errors import NotAllowed
from kitchen.members.models import Membership, Role, User
from kitchen.members.rules import LEAST_ROLE, Deed, can, check_may, check_may_for
from tests.factories.sites import Site, make_site

pytestmark = pytest.mark.django_db

# Written out on its own, so that a slip in the rules shows: what each role may do.
MEMBER = {
    Deed.SEE,
    Deed.DECLARE_BATCH,
    Deed.BOOK_SLOT,
    Deed.COUNT_OWN_JARS,
    Deed.JOIN_ROTA,
    Deed.LABEL_OWN_JARS,
    Deed.MOVE_OWN_JARS,
}
OPERATOR = MEMBER | {
    Deed.RUN_LOAD,
    Deed.COUNT_ANY_JARS,
    Deed.RECORD_GAUGE_CHECK,
    Deed.RECEIVE_BATCH,
    Deed.LABEL_ANY_JARS,
    Deed.MOVE_ANY_JARS,
    Deed.TRACE_ANY_LOT,
    Deed.SEE_RECORDS,
    Deed.SIGN_RECORD,
}
LEAD = OPERATOR | {
    Deed.SEE_SHELF,
    Deed.SEE_SEASON,
    Deed.ASK_FOR_HELPERS,
    Deed.ACT_FOR_OTHERS,
    Deed.CHANGE_MEMBERS,
    Deed.RECORD_TRAINING,
    Deed.CHANGE_POLICY,
    Deed.CONFIRM_PROCESS,
    Deed.CHANGE_EQUIPMENT,
    Deed.PLAN_DAY,
    Deed.DRAW_ROTA,
    Deed.PUBLISH_PLAN,
    Deed.DECIDE_HOLD,
    Deed.REVIEW_RECORD,
    Deed.SEE_AUDIT,
    Deed.EXPORT_KITCHEN,
}
ALLOWED = {Role.MEMBER: MEMBER, Role.OPERATOR: OPERATOR, Role.LEAD: LEAD}


@pytest.fixture
def site() -> Site:
    return make_site()


def test_no_deed_was_forgotten() -> None:
    assert set(LEAST_ROLE) == set(Deed) == LEAD


@pytest.mark.parametrize("deed", Deed)
@pytest.mark.parametrize("role", Role)
def test_role_and_deed(site: Site, role: Role, deed: Deed) -> None:
    user = {Role.LEAD: site.lead, Role.OPERATOR: site.operator, Role.MEMBER: site.member}[role]
    assert can(user, site.kitchen, deed) is (deed in ALLOWED[role])
    if deed not in ALLOWED[role]:
        with pytest.raises(NotAllowed):
            check_may(user, site.kitchen, deed)


@pytest.mark.parametrize("deed", Deed)
def test_a_lead_elsewhere_may_do_nothing_here(site: Site, deed: Deed) -> None:
    assert not can(make_site().lead, site.kitchen, deed)


def test_who_left_may_do_nothing(site: Site) -> None:
    Membership.objects.filter(user=site.lead).update(left_at=timezone.now())
    assert not can(site.lead, site.kitchen, Deed.SEE)


def test_who_may_not_sign_in_may_do_nothing(site: Site) -> None:
    User.objects.filter(pk=site.member.pk).update(is_active=False)
    site.member.refresh_from_db()
    assert not can(site.member, site.kitchen, Deed.SEE)


def test_a_superuser_is_no_member(site: Site) -> None:
    root = User.objects.create_superuser("root@yard.example", "Root")
    assert not can(root, site.kitchen, Deed.SEE)


def test_only_a_lead_acts_for_others(site: Site) -> None:
    check_may_for(site.lead, site.member, site.kitchen, Deed.DECLARE_BATCH)
    with pytest.raises(NotAllowed):
        check_may_for(site.operator, site.member, site.kitchen, Deed.DECLARE_BATCH)


def test_nobody_acts_for_a_stranger(site: Site) -> None:
    with pytest.raises(NotAllowed):
        check_may_for(site.lead, make_site().member, site.kitchen, Deed.DECLARE_BATCH)
