"""gunicorn for a school: gunicorn --config bandroom/deploy/gunicorn.conf.py bandroom.wsgi"""

import os

from bandroom import logs

# Behind nginx on the same machine; a container listens to its own network (see compose.yaml).
bind = os.environ.get("GUNICORN_BIND", "127.0.0.1:8001")
workers = int(os.environ.get("GUNICORN_WORKERS", "3"))
# A slow phone holds a thread, not a process.
worker_class = "gthread"
threads = int(os.environ.get("GUNICORN_THREADS", "4"))
# A piece of a take is at most 5 MB and nginx hands it on at once; whatever lasts longer is stuck.
timeout = 60
graceful_timeout = 30
keepalive = 5
# Each worker is replaced now and then, never all at once.
max_requests = 5000
max_requests_jitter = 500
# The sign of life of a worker is a file: in memory, not on a busy disk.
MEMORY = "/dev/shm"  # noqa: S108 - the name is the worker's own, made by gunicorn
worker_tmp_dir = MEMORY if os.path.isdir(MEMORY) else None
# Nothing is loaded before the fork that holds a connection.
preload_app = False
logconfig_dict = logs.config(json_lines=True, level=os.environ.get("LOG_LEVEL", "INFO"))
