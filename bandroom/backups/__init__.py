"""A copy of everything that a school would miss, the proof that it is whole, and the way back.

    manage.py backup FOLDER          makes one in a new folder
    manage.py verify_backup FOLDER   reads all of it and compares
    manage.py restore FOLDER         puts it back, and erases again whoever was erased since

A backup is a folder: the database (`database.sqlite3`, or `database.dump` of pg_dump), the recordings
(`takes/`), the notes of erasures (`erasures/`) and `manifest.json`, written last, with the SHA-256 of each.
The database is copied before the files, so that every recording named in the copy was stored before.
"""
