from django.apps import AppConfig


class WorkupsConfig(AppConfig):
    name = "workups"
    verbose_name = "Workups"
