from django.apps import AppConfig
from django.utils import translation

from exercises.music.voice import speak_by


class ExercisesConfig(AppConfig):
    name = "exercises"

    def ready(self) -> None:
        speak_by(translation)
