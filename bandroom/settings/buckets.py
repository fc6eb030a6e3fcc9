"""Recordings in S3-compatible storage."""

from typing import Any

from bandroom.settings import environment

CONNECT_SECONDS, READ_SECONDS = 5, 30
# The first time and once more: a phone comes again by itself, and a worker has other work.
TRIES = 2


def in_bucket(bucket: str, *, folder: str = "") -> dict[str, Any]:
    """Django's storage for it; addresses and keys from the environment, secrets also from files."""
    # Here, since loading them takes a while and most schools have a disk.
    from boto3.s3.transfer import TransferConfig  # noqa: PLC0415 as above
    from botocore.config import Config  # noqa: PLC0415 as above

    return {
        "BACKEND": "storages.backends.s3.S3Storage",
        "OPTIONS": {
            "bucket_name": bucket,
            "location": folder,
            "endpoint_url": environment.text("S3_ENDPOINT", "") or None,
            "access_key": environment.text("S3_ACCESS_KEY"),
            "secret_key": environment.text("S3_SECRET_KEY"),
            "region_name": environment.text("S3_REGION", "") or None,
            "default_acl": None,
            "querystring_auth": True,
            # Every name is random: nobody need ask first whether it is free.
            "file_overwrite": True,
            "client_config": Config(
                connect_timeout=CONNECT_SECONDS,
                read_timeout=READ_SECONDS,
                retries={"total_max_attempts": TRIES, "mode": "standard"},
            ),
            # What is stored is read from the database's thread, a part at a time.
            "transfer_config": TransferConfig(use_threads=False),
        },
    }
