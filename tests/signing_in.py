"""A signed-in client for the cost of one row; signing in itself has tests of its own."""

from importlib import import_module

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.test import Client

from bandroom.people.models import User

BACKEND = "bandroom.people.signing_in.NameBackend"


def signed_in(user: User) -> Client:
    session = import_module(settings.SESSION_ENGINE).SessionStore()
    session[SESSION_KEY] = str(user.pk)
    session[BACKEND_SESSION_KEY] = BACKEND
    session[HASH_SESSION_KEY] = user.get_session_auth_hash()
    session.save()
    client = Client()
    client.cookies[settings.SESSION_COOKIE_NAME] = session.session_key
    return client
