from django.apps import AppConfig


class BandroomConfig(AppConfig):
    name = "bandroom"
    label = "bandroom"
