from django.apps import AppConfig


class CoachingConfig(AppConfig):
    name = "coaching"

    def ready(self) -> None:
        from coaching import backing_up, handout_mail, mailing, message_mail  # noqa: F401  carry their jobs
