"""The addresses of the doors, in the order in which somebody meets them."""

from __future__ import annotations

from django.urls import include, path

from coaching import feed
from coaching.desk import athlete_data, invitations, mail
from coaching.doors import account, answering, confirming, joining, links, pages, passkeys, second, signing_in
from coaching.phone import profile, welcome

passkey_ceremonies = (
    [
        path("add/begin/", passkeys.BeginAdding.as_view(), name="credential-registration-begin"),
        path("add/complete/", passkeys.CompleteAdding.as_view(), name="credential-registration-complete"),
        path("use/begin/", passkeys.BeginUsing.as_view(), name="credential-authentication-begin"),
        path("use/complete/", passkeys.CompleteUsing.as_view(), name="credential-authentication-complete"),
        path("words.js", passkeys.words, name="js-i18n-catalog"),
    ],
    "otp_webauthn",
)

urlpatterns = [
    path("", signing_in.home, name="home"),
    path("health/", signing_in.health, name="health"),
    path("privacy/", pages.privacy, name="privacy"),
    # In and out
    path("sign-in/", signing_in.sign_in, name="sign-in"),
    path("sign-in/link/", links.ask, name="ask-link"),
    path("sign-in/link/<slug:scope>/<str:token>/", links.link, name="sign-in-link"),
    path("answer/<str:token>/", answering.answer, name="answer"),
    path("confirm/<str:token>/", confirming.confirm, name="confirm"),
    path("new-address/<str:token>/", confirming.new_address, name="new-address"),
    path("sign-in/second/", second.second_step, name="second-step"),
    path("sign-out/", signing_in.sign_out, name="sign-out"),
    path("passkeys/", include(passkey_ceremonies)),
    # One's own account
    path("account/", account.account, name="account"),
    path("account/address/", confirming.address, name="address"),
    path("account/password/", account.password, name="password"),
    path("account/passkeys/", passkeys.passkeys, name="passkeys"),
    path("account/passkeys/<int:pk>/remove/", passkeys.remove, name="passkey-remove"),
    path("account/codes/", second.codes, name="codes"),
    path("account/codes/paper/", second.paper, name="codes-paper"),
    path("account/codes/remove/", second.remove_codes, name="codes-remove"),
    path("account/devices/end/", account.end_all, name="devices-end"),
    path("account/devices/<slug:key>/end/", account.end_session, name="device-end"),
    # Joining
    path("join/<str:token>/", joining.join, name="join"),
    path("me/welcome/<slug:step>/", welcome.welcome, name="welcome"),
    path("desk/invitations/", invitations.invitations, name="invitations"),
    path("desk/invitations/print/", invitations.printed, name="invitations-print"),
    path("desk/invitations/<int:pk>/", invitations.invitation, name="invitation"),
    path("desk/invitations/<int:pk>/withdraw/", invitations.withdraw, name="invitation-withdraw"),
    path("desk/athletes/<int:pk>/invite/", invitations.again, name="invite"),
    # The profile, the calendar, what is kept
    path("me/profile/", profile.profile, name="profile"),
    path("me/profile/about/", profile.about, name="my-about"),
    path("me/profile/days/", profile.days, name="my-days"),
    path("me/profile/calendar/", profile.calendar, name="my-calendar"),
    path("me/profile/data/", profile.my_data, name="my-data"),
    path("me/profile/data/file/", profile.my_export, name="my-export"),
    path("me/profile/data/leave/", profile.leave, name="my-leave"),
    path("me/profile/data/erase/", profile.erase_me, name="my-erase"),
    path("feed/<str:token>.ics", feed.feed, name="feed"),
    path("desk/athletes/<int:pk>/data/", athlete_data.athlete_data, name="athlete-data"),
    path("desk/athletes/<int:pk>/data/file/", athlete_data.export, name="athlete-export"),
    path("desk/athletes/<int:pk>/data/erase/", athlete_data.erase, name="athlete-erase"),
    path("desk/mail/", mail.mail, name="mail"),
    path("desk/mail/test/", mail.test_mail, name="mail-test"),
]
