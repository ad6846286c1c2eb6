"""Two leads who leave at the same moment: one of them stays."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from kitchen.errors import BadMembership
from kitchen.members.actions import change_role, end_membership
from kitchen.members.models import Membership, Role
from kitchen.members.queries import leads_of
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.mark.parametrize("by_role", [True, False])
def test_of_two_leads_who_go_at_once_one_stays(*, by_role: bool) -> None:
    site = make_site()
    site.operator.memberships.update(role=Role.LEAD)
    start = Barrier(2)

    def go(membership: Membership) -> bool:
        start.wait(timeout=30)
        try:
            if by_role:
                change_role(membership=membership, role=Role.MEMBER, actor=membership.user)
            else:
                end_membership(membership=membership, actor=membership.user)
        except BadMembership:
            return False
        finally:
            connection.close()
        return True

    both = list(leads_of(site.kitchen))
    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(go, both)) == [False, True]
    assert leads_of(site.kitchen).count() == 1
