"""Joining, leaving, trainings and addresses."""

from __future__ import annotations

from datetime import date

import pytest
from django.db import IntegrityError, transaction
from django.test import override_settings

from kitchen.audit.queries import about
from kitchen.errors import BadMembership, BadSetting, NotAllowed
from kitchen.members.actions import add_member, change_role, end_membership
from kitchen.members.models import CannerTraining, FoodTraining, Membership, Role, User
from kitchen.members.queries import kitchens_of, trained_on
from kitchen.members.signing_in import accept_invitation, invite, set_password
from kitchen.members.trainings import record_food_training, record_training
from tests.factories.sites import Site, make_site

pytestmark = pytest.mark.django_db

LONG = "three jars of plums"


@pytest.fixture
def site() -> Site:
    return make_site()


def test_a_new_member_gets_a_user_who_cannot_sign_in_yet(site: Site) -> None:
    membership = add_member(
        kitchen=site.kitchen,
        email="New.One@Yard.example",
        display_name="New One",
        role=Role.MEMBER,
        actor=site.lead,
    )
    assert membership.user.email == "new.one@yard.example"
    assert not membership.user.has_usable_password()


def test_one_mailbox_is_one_person(site: Site) -> None:
    again = add_member(
        kitchen=make_site().kitchen,
        email=site.member.email.upper(),
        display_name="Somebody",
        role=Role.MEMBER,
        actor=User.objects.get(memberships__role=Role.LEAD, memberships__kitchen__gt=site.kitchen.pk),
    )
    assert again.user == site.member


def test_the_database_keeps_addresses_in_lower_case(site: Site) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        User.objects.filter(pk=site.member.pk).update(email="Member@Yard.example")
    assert User.objects.get_by_natural_key(site.member.email.upper()) == site.member


def test_joining_twice_is_refused(site: Site) -> None:
    with pytest.raises(BadMembership, match="already"):
        add_member(
            kitchen=site.kitchen,
            email=site.member.email,
            display_name="",
            role=Role.LEAD,
            actor=site.lead,
        )
    assert Membership.objects.get(user=site.member).role == Role.MEMBER


def test_who_left_comes_back(site: Site) -> None:
    membership = Membership.objects.get(user=site.member)
    end_membership(membership=membership, actor=site.member)
    assert not kitchens_of(site.member).exists()
    add_member(
        kitchen=site.kitchen, email=site.member.email, display_name="", role=Role.OPERATOR, actor=site.lead
    )
    assert list(kitchens_of(site.member)) == [site.kitchen]
    assert Membership.objects.get(user=site.member).role == Role.OPERATOR


def test_the_last_lead_neither_leaves_nor_steps_down(site: Site) -> None:
    membership = Membership.objects.get(user=site.lead)
    with pytest.raises(BadMembership, match="only lead"):
        end_membership(membership=membership, actor=site.lead)
    with pytest.raises(BadMembership, match="only lead"):
        change_role(membership=membership, role=Role.MEMBER, actor=site.lead)


def test_the_admin_pages_follow_the_role(site: Site) -> None:
    membership = Membership.objects.get(user=site.operator)
    change_role(membership=membership, role=Role.LEAD, actor=site.lead)
    assert User.objects.get(pk=site.operator.pk).is_staff
    change_role(membership=membership, role=Role.OPERATOR, actor=site.lead)
    assert not User.objects.get(pk=site.operator.pk).is_staff


def test_a_member_changes_no_roles(site: Site) -> None:
    with pytest.raises(NotAllowed):
        change_role(membership=Membership.objects.get(user=site.member), role=Role.LEAD, actor=site.member)


def test_training_counts_from_its_day_to_its_last(site: Site) -> None:
    membership = Membership.objects.get(user=site.member)
    record_training(
        membership=membership,
        trained_on=date(2026, 5, 1),
        expires_on=date(2026, 9, 12),
        trained_by="Office",
        actor=site.lead,
    )
    days = [date(2026, 4, 30), date(2026, 5, 1), date(2026, 9, 12), date(2026, 9, 13)]
    assert [site.member.pk in trained_on(site.kitchen, day) for day in days] == [False, True, True, False]
    training = CannerTraining.objects.get(membership=membership)
    assert [training.holds_on(day) for day in days] == [False, True, True, False]


def test_nobody_under_16_is_trained(site: Site) -> None:
    membership = Membership.objects.get(user=site.other)
    membership.under_16 = True
    with pytest.raises(BadMembership, match="under 16"):
        record_training(
            membership=membership, trained_on=date(2026, 5, 1), trained_by="Office", actor=site.lead
        )


def test_a_training_cannot_expire_before_it_was_given(site: Site) -> None:
    membership = Membership.objects.get(user=site.other)
    with pytest.raises(BadMembership):
        record_training(
            membership=membership,
            trained_on=date(2026, 5, 1),
            expires_on=date(2026, 5, 1),
            trained_by="Office",
            actor=site.lead,
        )
    with pytest.raises(IntegrityError), transaction.atomic():
        CannerTraining.objects.create(
            membership=membership,
            trained_on=date(2026, 5, 1),
            expires_on=date(2026, 5, 1),
            trained_by="Office",
        )


def test_a_food_training_is_recorded_and_trains_nobody_for_a_canner(site: Site) -> None:
    """Rule S9 asks for a person trained at the canner, not at the chopping board. Young people may have one."""
    Membership.objects.filter(user=site.other).update(under_16=True)
    membership = Membership.objects.get(user=site.other)
    training = record_food_training(
        membership=membership,
        trained_on=date(2026, 5, 1),
        expires_on=date(2027, 5, 1),
        trained_by="Office",
        actor=site.lead,
    )
    assert (training.holds_on(date(2027, 5, 1)), training.holds_on(date(2027, 5, 2))) == (True, False)
    assert site.other.pk not in trained_on(site.kitchen, date(2026, 6, 1))
    line = about(training).get()
    assert (line.actor, line.action, line.after["trained_by"]) == (
        site.lead,
        "record_food_training",
        "Office",
    )


def test_a_food_training_keeps_to_the_same_limits(site: Site) -> None:
    membership, day = Membership.objects.get(user=site.other), date(2026, 5, 1)
    with pytest.raises(BadMembership):
        record_food_training(
            membership=membership, trained_on=day, expires_on=day, trained_by="Office", actor=site.lead
        )
    with pytest.raises(NotAllowed):
        record_food_training(membership=membership, trained_on=day, trained_by="Me", actor=site.operator)
    with pytest.raises(IntegrityError), transaction.atomic():
        FoodTraining.objects.create(
            membership=membership, trained_on=day, expires_on=day, trained_by="Office"
        )


def test_a_password_is_set_by_its_own_person_and_must_be_long(site: Site) -> None:
    set_password(user=site.member, password=LONG, actor=site.member)
    assert User.objects.get(pk=site.member.pk).check_password(LONG)
    with pytest.raises(BadSetting):
        set_password(user=site.member, password=LONG[:4], actor=site.member)
    with pytest.raises(NotAllowed):
        set_password(user=site.member, password=LONG, actor=site.lead)


def invited(site: Site) -> tuple[User, str]:
    """A new member with the token that the lead was given."""
    membership = add_member(
        kitchen=site.kitchen,
        email="new@yard.example",
        display_name="New One",
        role=Role.MEMBER,
        actor=site.lead,
    )
    return membership.user, invite(membership=membership, actor=site.lead)


def test_an_invitation_sets_the_first_password_once(site: Site) -> None:
    user, token = invited(site)
    accept_invitation(user=user, token=token, password=LONG)
    user = User.objects.get(pk=user.pk)
    assert user.check_password(LONG)
    with pytest.raises(NotAllowed, match="no longer holds"):
        accept_invitation(user=user, token=token, password=LONG[::-1])
    with pytest.raises(BadMembership, match="can sign in already"):
        invite(membership=user.memberships.get(), actor=site.lead)


def test_an_invitation_is_for_one_person_and_given_by_a_lead(site: Site) -> None:
    user, token = invited(site)
    other = User.objects.create(email="third@yard.example", display_name="Third")
    other.set_unusable_password()
    with pytest.raises(NotAllowed):
        accept_invitation(user=other, token=token, password=LONG)
    with pytest.raises(NotAllowed):
        invite(membership=user.memberships.get(), actor=site.operator)


def test_a_password_that_is_too_short_leaves_the_invitation_open(site: Site) -> None:
    user, token = invited(site)
    with pytest.raises(BadSetting):
        accept_invitation(user=user, token=token, password=LONG[:4])
    accept_invitation(user=User.objects.get(pk=user.pk), token=token, password=LONG)


def test_an_invitation_ends_after_its_days(site: Site) -> None:
    user, token = invited(site)
    with override_settings(PASSWORD_RESET_TIMEOUT=-1), pytest.raises(NotAllowed):
        accept_invitation(user=user, token=token, password=LONG)
