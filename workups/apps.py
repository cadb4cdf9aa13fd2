from django.apps import AppConfig


class WorkupsConfig(AppConfig):
    name = "workups"
    verbose_name = "Workups"

    def ready(self) -> None:
        from workups.web.accounts import devices, events  # noqa: F401 (register their receivers)
