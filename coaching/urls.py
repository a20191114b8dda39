"""Every address. `tests/desk/test_access.py` walks this table: an address without a declared access fails."""

from django.urls import path

from coaching import doors
from coaching.desk import assign, athlete, handouts, proposals, roster, templates
from coaching.phone import logging, paces, plan, session, today

urlpatterns = [
    path("", doors.home, name="home"),
    path("sign-in/", doors.sign_in, name="sign-in"),
    path("sign-out/", doors.sign_out, name="sign-out"),
    path("health/", doors.health, name="health"),
    # The coach's desk
    path("desk/", roster.roster, name="roster"),
    path("desk/athletes/<int:pk>/", athlete.athlete, name="athlete"),
    path("desk/athletes/<int:pk>/note/", athlete.note, name="athlete-note"),
    path("desk/athletes/<int:pk>/time-off/", athlete.time_off, name="athlete-time-off"),
    path("desk/health-notes/<int:pk>/clear/", athlete.clear_hold, name="clear-hold"),
    path("desk/templates/", templates.templates, name="templates"),
    path("desk/templates/<int:pk>/", templates.template, name="template"),
    path("desk/templates/<int:pk>/assign/", assign.assign, name="template-assign"),
    path("desk/proposals/", proposals.proposals, name="proposals"),
    path("desk/proposals/<int:pk>/", proposals.proposal, name="proposal"),
    path("desk/proposals/<int:pk>/accept/", proposals.accept, name="proposal-accept"),
    path("desk/proposals/<int:pk>/refuse/", proposals.refuse, name="proposal-refuse"),
    path("desk/proposals/<int:pk>/undo/", proposals.undo, name="proposal-undo"),
    path("desk/handouts/", handouts.handouts, name="handouts"),
    path("desk/handouts/<uuid:pk>/", handouts.batch, name="handout-batch"),
    path("desk/handouts/<uuid:pk>/file/", handouts.download, name="handout-file"),
    # The athlete's phone
    path("me/", today.today, name="today"),
    path("me/plan/", plan.my_plan, name="my-plan"),
    path("me/paces/", paces.my_paces, name="my-paces"),
    path("me/sessions/<uuid:pk>/", session.session, name="my-session"),
    path("me/sessions/<uuid:pk>/log/", logging.log, name="log"),
    path("me/runs/", logging.extra_run, name="log-extra"),
]
