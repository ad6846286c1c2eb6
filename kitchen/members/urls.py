"""Signing in and out, passwords, language and units; people, place and hours of a kitchen."""

from __future__ import annotations

from django.contrib.auth import views as auth
from django.urls import path, reverse_lazy

from kitchen.members import people, premises
from kitchen.members.forms import NewPasswordForm
from kitchen.members.joining import join
from kitchen.members.password import ChangePasswordForm, ForgottenForm
from kitchen.members.policy import policy
from kitchen.members.views import SignIn, about_me, sign_out

app_name = "members"
_HERE = "kitchens/<slug:kitchen>/"
_ONE = f"{_HERE}people/<uuid:membership>/"
urlpatterns = [
    path(
        "sign-in/",
        SignIn.as_view(template_name="members/sign_in.html", redirect_authenticated_user=True),
        name="sign-in",
    ),
    path("sign-out/", sign_out, name="sign-out"),
    path("about-me/", about_me, name="about-me"),
    path("join/<uuid:user>/<str:token>/", join, name="join"),
    path(
        "password/",
        auth.PasswordChangeView.as_view(
            template_name="members/change_password.html",
            form_class=ChangePasswordForm,
            success_url=reverse_lazy("home:front"),
        ),
        name="change-password",
    ),
    path(
        "password/forgotten/",
        auth.PasswordResetView.as_view(
            template_name="members/forgotten.html",
            email_template_name="members/forgotten_mail.txt",
            subject_template_name="members/forgotten_subject.txt",
            form_class=ForgottenForm,
            success_url=reverse_lazy("members:forgotten-sent"),
        ),
        name="forgotten",
    ),
    path(
        "password/forgotten/sent/",
        auth.PasswordResetDoneView.as_view(template_name="members/forgotten_sent.html"),
        name="forgotten-sent",
    ),
    path(
        "password/new/<uidb64>/<token>/",
        auth.PasswordResetConfirmView.as_view(
            template_name="members/new_password.html",
            form_class=NewPasswordForm,
            success_url=reverse_lazy("members:sign-in"),
        ),
        name="new-password",
    ),
    path(f"{_HERE}people/", people.people, name="people"),
    path(_ONE, people.one_person, name="person"),
    path(f"{_ONE}change/", people.change, name="change-person"),
    path(f"{_ONE}training/", people.train, name="train"),
    path(f"{_ONE}invite/", people.invite_again, name="invite"),
    path(f"{_ONE}leave/", people.leave, name="leave"),
    path(f"{_HERE}policy/", policy, name="policy"),
    path(f"{_HERE}place-and-hours/", premises.premises, name="premises"),
    path(f"{_HERE}place-and-hours/place/", premises.change_place, name="change-place"),
    path(f"{_HERE}place-and-hours/hours/", premises.change_hours, name="change-hours"),
]
