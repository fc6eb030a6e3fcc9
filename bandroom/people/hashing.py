"""How passwords and passphrases are hashed.

Argon2id with the parameters that OWASP's Password Storage Cheat Sheet names first (19 MiB, two passes, one
lane; from memory of the 2024 edition). Django's own, 100 MiB and eight lanes for each try, would take 3 GB
when a class of thirty signs in at the start of a lesson.
"""

from django.contrib.auth.hashers import Argon2PasswordHasher


class SchoolHasher(Argon2PasswordHasher):
    time_cost = 2
    memory_cost = 19 * 1024  # KiB
    parallelism = 1
