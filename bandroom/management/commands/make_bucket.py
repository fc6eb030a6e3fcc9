"""The bucket for recordings, on a storage that is new."""

import time
from typing import Any

from botocore.exceptions import BotoCoreError, ClientError
from django.core.files.storage import storages
from django.core.management import BaseCommand, CommandError
from storages.backends.s3 import S3Storage

TRIES, WAIT_SECONDS = 30, 2


class Command(BaseCommand):
    help = (
        "Make the bucket that S3_BUCKET names, if the storage has none of that name; waits until it answers."
    )
    # It runs before the database is there.
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        storage = storages["takes"]
        if not isinstance(storage, S3Storage):
            raise CommandError("Recordings lie on a disk here: set S3_BUCKET to keep them in a bucket.")
        client, name = storage.connection.meta.client, storage.bucket_name
        for _ in range(TRIES):
            try:
                if name in {bucket["Name"] for bucket in client.list_buckets()["Buckets"]}:
                    self.stdout.write(f"The bucket {name} is there.")
                else:
                    client.create_bucket(Bucket=name)
                    self.stdout.write(f"Made the bucket {name}.")
            except ClientError as refused:
                raise CommandError(f"The storage refuses: {refused}") from None
            except BotoCoreError as away:
                last = away
                time.sleep(WAIT_SECONDS)
            else:
                return
        raise CommandError(f"The storage at {client.meta.endpoint_url} does not answer: {last}")
