from django.apps import AppConfig


class PeopleConfig(AppConfig):
    name = "bandroom.people"
    label = "people"
