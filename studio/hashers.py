"""How passwords are hashed."""

from django.contrib.auth.hashers import Argon2PasswordHasher


class StudioArgon2PasswordHasher(Argon2PasswordHasher):
    """Argon2id with 46 MiB and one lane, within what OWASP's password storage sheet asks for (m=46 MiB, t=1, p=1;
    from memory).

    Django's 100 MiB would let a few log-ins at once take a small server's memory.
    """

    time_cost = 2
    memory_cost = 46 * 1024
    parallelism = 1
