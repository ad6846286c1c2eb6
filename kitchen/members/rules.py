"""Who may do what in a kitchen, and what a kitchen may decide for itself."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.core.exceptions import ValidationError
from django.db.models import Model

from kitchen.errors import BadMembership, BadSetting, NotAllowed
from kitchen.members.models import MOST_ALTITUDE_FT, MOST_BEST_BY_MONTHS, Kitchen, Role, User
from kitchen.members.queries import ids_that_may_watch, membership_of


class Deed(StrEnum):
    """What a person may want to do. The value completes "You may not …"."""

    SEE = "see this kitchen"
    DECLARE_BATCH = "declare a batch"
    BOOK_SLOT = "book canner time"
    COUNT_OWN_JARS = "count the seals of your own jars"
    JOIN_ROTA = "say when you can help"
    LABEL_OWN_JARS = "print labels for your own jars"
    MOVE_OWN_JARS = "note where your own jars went"
    RUN_LOAD = "write in the process record"
    COUNT_ANY_JARS = "count the seals of other members' jars"
    RECORD_GAUGE_CHECK = "record a gauge check"
    RECEIVE_BATCH = "note that a batch has arrived or correct its jars"
    LABEL_ANY_JARS = "print labels for other members' jars"
    MOVE_ANY_JARS = "note where other members' jars went"
    TRACE_ANY_LOT = "trace other members' jars"
    SEE_RECORDS = "read process records"
    SIGN_RECORD = "sign a process record"
    SEE_SHELF = "see the whole shelf"
    SEE_SEASON = "look at a season"
    ASK_FOR_HELPERS = "ask for more helpers"
    ACT_FOR_OTHERS = "act for another member"
    CHANGE_MEMBERS = "change who belongs to the kitchen"
    RECORD_TRAINING = "record a canner training"
    CHANGE_POLICY = "change the kitchen's policy"
    CONFIRM_PROCESS = "confirm a published process"
    CHANGE_EQUIPMENT = "change the equipment"
    PLAN_DAY = "plan a harvest day"
    DRAW_ROTA = "draw up the rota again"
    PUBLISH_PLAN = "publish a plan"
    DECIDE_HOLD = "decide about jars on hold"
    REVIEW_RECORD = "review a process record"
    SEE_AUDIT = "read who changed what"
    EXPORT_KITCHEN = "take out everything the kitchen has"


# The least role for each deed; a lead may do all an operator may, an operator all a member may.
LEAST_ROLE: dict[Deed, Role] = {
    Deed.SEE: Role.MEMBER,
    Deed.DECLARE_BATCH: Role.MEMBER,
    Deed.BOOK_SLOT: Role.MEMBER,
    Deed.COUNT_OWN_JARS: Role.MEMBER,
    Deed.JOIN_ROTA: Role.MEMBER,
    Deed.LABEL_OWN_JARS: Role.MEMBER,
    Deed.MOVE_OWN_JARS: Role.MEMBER,
    Deed.RUN_LOAD: Role.OPERATOR,
    Deed.COUNT_ANY_JARS: Role.OPERATOR,
    Deed.RECORD_GAUGE_CHECK: Role.OPERATOR,
    Deed.RECEIVE_BATCH: Role.OPERATOR,
    Deed.LABEL_ANY_JARS: Role.OPERATOR,
    Deed.MOVE_ANY_JARS: Role.OPERATOR,
    Deed.TRACE_ANY_LOT: Role.OPERATOR,
    Deed.SEE_RECORDS: Role.OPERATOR,
    Deed.SIGN_RECORD: Role.OPERATOR,
    Deed.SEE_SHELF: Role.LEAD,
    Deed.SEE_SEASON: Role.LEAD,
    Deed.ASK_FOR_HELPERS: Role.LEAD,
    Deed.ACT_FOR_OTHERS: Role.LEAD,
    Deed.CHANGE_MEMBERS: Role.LEAD,
    Deed.RECORD_TRAINING: Role.LEAD,
    Deed.CHANGE_POLICY: Role.LEAD,
    Deed.CONFIRM_PROCESS: Role.LEAD,
    Deed.CHANGE_EQUIPMENT: Role.LEAD,
    Deed.PLAN_DAY: Role.LEAD,
    Deed.DRAW_ROTA: Role.LEAD,
    Deed.PUBLISH_PLAN: Role.LEAD,
    Deed.DECIDE_HOLD: Role.LEAD,
    Deed.REVIEW_RECORD: Role.LEAD,
    Deed.SEE_AUDIT: Role.LEAD,
    Deed.EXPORT_KITCHEN: Role.LEAD,
}
_RANK = {Role.MEMBER: 0, Role.OPERATOR: 1, Role.LEAD: 2}

# name: (least, most, why), as the database also holds them.
POLICY_LIMITS: dict[str, tuple[int, int, str]] = {
    "canners_per_person": (1, 6, "rule S9 wants each canner watched"),
    "fill_wait_limit_minutes": (1, 60, "rule S10 keeps filled jars from cooling"),
    "cool_down_minutes": (20, 240, "rule S5 never shortens the cool-down"),
    "cleaning_minutes": (1, 240, "rule S15 has cleaning follow meat and fish"),
    "cooling_hold_hours": (12, 24, "rule S12 has jars stand 12 to 24 hours"),
    "loading_minutes": (1, 60, "jars are lifted one by one"),
    "unloading_minutes": (1, 60, "jars are lifted one by one"),
    "prep_hands": (1, 12, "somebody must do it"),
    "fill_hands": (1, 6, "somebody must do it"),
    "break_minutes": (5, 60, "a shorter break is none"),
    "break_every_minutes": (60, 360, "tired hands make mistakes"),
    "meal_minutes": (10, 120, "nobody eats in less"),
    "meal_after_minutes": (120, 480, "nobody works a day without a meal"),
    "longest_shift_minutes": (120, 960, "tired hands make mistakes"),
    "rest_minutes": (480, 1440, "people sleep between two days"),
    "walking_minutes": (0, 15, "the stations are under one roof"),
    "kept_percent": (50, 95, "with less the plan is late as often as not"),
    "hold_minutes": (2, 60, "others wait for a time that is held"),
    "most_in_group": (1, 12, "the kitchen has room for no more"),
    "best_by_months": (1, MOST_BEST_BY_MONTHS, "home-canned food is best used within a year"),
}
POLICY_FIELDS = (
    *POLICY_LIMITS,
    "share_under_longest",
    "meat_cut_off",
    "plan_by_records",
    "under_16_may_book",
    "jar_fee",
)


def allows(role: Role, deed: Deed) -> bool:
    """True when the table gives the deed to this role."""
    return _RANK[role] >= _RANK[LEAST_ROLE[deed]]


def check_may(user: User, kitchen: Kitchen, deed: Deed) -> None:
    """Refuse unless the person's role in this kitchen allows the deed."""
    membership = membership_of(user, kitchen)
    least = LEAST_ROLE[deed]
    if membership is None or not allows(Role(membership.role), deed):
        raise NotAllowed(
            f"{user} may not {deed.value} in {kitchen}.",
            remedy=f"Ask a person with the role {least.label.lower()} or above.",
        )


def can(user: User, kitchen: Kitchen, deed: Deed) -> bool:
    """True when ``check_may`` refuses nothing."""
    try:
        check_may(user, kitchen, deed)
    except NotAllowed:
        return False
    return True


def check_may_for(user: User, member: User, kitchen: Kitchen, deed: Deed) -> None:
    """Refuse unless the person may do the deed for themselves, or act for the member, who must belong here
    too.
    """
    check_may(user, kitchen, deed)
    if user.pk != member.pk:
        check_may(user, kitchen, Deed.ACT_FOR_OTHERS)
        check_may(member, kitchen, deed)


def check_trained(user: User, kitchen: Kitchen, on: date) -> None:
    """Refuse whoever has no training to run a canner that counts on this day (rule S9)."""
    if user.pk not in ids_that_may_watch(kitchen, on):
        raise untrained(user)


def untrained(user: User) -> BadMembership:
    """The refusal of whoever has no training to run a canner (rule S9)."""
    return BadMembership(
        f"{user} is not trained to run a canner.",
        remedy="Choose a trained person; rule S9 wants one at a hot canner.",
    )


def check_policy(changes: dict[str, object]) -> None:
    """Refuse a policy outside its limits, naming the rule behind each."""
    for name, value in changes.items():
        if name not in POLICY_FIELDS:
            raise BadSetting(
                f"{name} is not a policy of a kitchen.", remedy=f"Choose one of: {', '.join(POLICY_FIELDS)}."
            )
        if name not in POLICY_LIMITS:
            continue
        least, most, why = POLICY_LIMITS[name]
        if not isinstance(value, int) or not least <= value <= most:
            raise BadSetting(
                f"{name.replace('_', ' ')} cannot be {value}.",
                remedy=f"Set it from {least} to {most}: {why}.",
            )


def check_fields(row: Model) -> None:
    """Refuse a row whose fields do not fit their own limits, in one sentence."""
    try:
        row.full_clean()
    except ValidationError as error:
        told = "; ".join(f"{name}: {' '.join(messages)}" for name, messages in error.message_dict.items())
        raise BadSetting(told, remedy="Correct these fields.") from error


def check_site(*, altitude_ft: int, time_zone: str) -> None:
    """Refuse an altitude outside the published bands, or a time zone that nobody knows."""
    if not 0 <= altitude_ft <= MOST_ALTITUDE_FT:
        raise BadSetting(
            f"No process is published for an altitude of {altitude_ft} ft.",
            remedy=f"The published bands run from 0 to {MOST_ALTITUDE_FT} ft; "
            "ask the extension office about higher sites.",
        )
    try:
        ZoneInfo(time_zone)
    except (ZoneInfoNotFoundError, ValueError) as error:
        raise BadSetting(
            f"{time_zone!r} is not a time zone.", remedy="Give a name such as America/Denver."
        ) from error
