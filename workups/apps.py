from django.apps import AppConfig


class WorkupsConfig(AppConfig):
    name = "workups"
    verbose_name = "Workups"

    def ready(self) -> None:
        from workups.web.accounts import events  # noqa: F401 (registers its receivers)
