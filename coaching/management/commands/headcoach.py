"""Make the first head coach, or another one; or let one in again whose keys are lost."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.core.validators import validate_email
from django.db import transaction
from django_otp.plugins.otp_static.models import StaticDevice
from django_otp.plugins.otp_totp.models import TOTPDevice
from django_otp_webauthn.models import WebAuthnCredential

from athletes.models import Coach, User
from coaching.doors.links import FIRST, LASTS, address_for


class Command(BaseCommand):
    help = "Make a head coach and print a link that signs them in once. No password is set or printed."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("email")
        parser.add_argument("name", nargs="*", help="needed for somebody new")
        parser.add_argument(
            "--forget-second-factor",
            action="store_true",
            help="remove passkeys and one-time codes: for a lost phone",
        )

    @transaction.atomic
    def handle(self, *args: Any, **options: Any) -> None:
        email, name = options["email"].strip().lower(), " ".join(options["name"]).strip()
        try:
            validate_email(email)
        except ValidationError as error:
            raise CommandError(f"“{email}” is not a whole mail address.") from error
        user = User.objects.filter(email=email).first()
        if user is None and not name:
            raise CommandError(
                f"Nobody has the address {email} yet. Give the name too: headcoach {email} Ada Fell"
            )
        if user is None:
            user = User.objects.create_user(email, None, name[:80])
        Coach.objects.update_or_create(user=user, defaults={"is_head": True})
        if options["forget_second_factor"]:
            for model in (TOTPDevice, StaticDevice, WebAuthnCredential):
                model.objects.filter(user=user).delete()
        hours = LASTS[FIRST].total_seconds() // 3600
        self.stdout.write(
            f"{user.name} <{user.email}> is a head coach.\nThis link signs them in once, within {hours:.0f} hours:\n\n"
            f"  {address_for(user, FIRST)}\n\nSet a password or a passkey on the page that opens."
        )
