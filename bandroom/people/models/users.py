"""Who signs in: students by a name-id from their card, staff by e-mail."""

from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models


class UserManager(BaseUserManager["User"]):
    def create_user(self, sign_in_name: str, password: str | None = None, **fields: Any) -> "User":
        user = self.model(sign_in_name=sign_in_name.lower(), **fields)
        user.set_password(password)
        user.save(using=self._db)
        return user


class User(AbstractBaseUser):
    """One person. A student has no e-mail address here: the sign-in name is a name-id."""

    sign_in_name = models.CharField(max_length=254, unique=True)
    first_name = models.CharField(max_length=60)
    last_name = models.CharField(max_length=80, blank=True)
    is_active = models.BooleanField(default=True)

    USERNAME_FIELD = "sign_in_name"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["first_name"]

    objects = UserManager()

    class Meta:
        ordering = ("last_name", "first_name", "pk")

    def __str__(self) -> str:
        return self.full_name

    @property
    def full_name(self) -> str:
        return f"{self.first_name} {self.last_name}".strip()
