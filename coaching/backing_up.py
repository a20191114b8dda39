"""A backup is one file: every row and every made file, consistent while in use, encrypted if a key is given.

It holds rows, not a database's own format, so that what was kept on SQLite can be restored on PostgreSQL and the
other way round. Signed-in sessions stay out: after a restore everybody signs in again.

The file: 16 bytes of salt and one Fernet token (AES-128-CBC with HMAC-SHA256) around the archive when encrypted;
else the archive itself, a zip with `manifest.json`, `rows/<table>.jsonl` and `files/...`.
"""

from __future__ import annotations

import base64
import hashlib
import io
import json
import secrets
import zipfile
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt
from django.apps import apps
from django.conf import settings
from django.core.management.color import no_style
from django.core.serializers.json import DjangoJSONEncoder
from django.db import connection, models, transaction
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from coaching.models.backup import BackupRun
from plans.jobs import carries, enqueue
from plans.models import Job

FORMAT = 1
LEFT_OUT = {"sessions.Session", "coaching.DeviceSession", "contenttypes.ContentType", "auth.Permission"}
MAGIC = b"practice-backup-encrypted-1\n"
KEEP = 14
WARN_AFTER = timedelta(days=8)
BATCH = 500


class Exact(DjangoJSONEncoder):
    """Moments to the microsecond: Django's own encoder keeps milliseconds."""

    def default(self, o: Any) -> Any:
        return o.isoformat() if isinstance(o, datetime) else super().default(o)


class BackupError(Exception):
    """Why a file can't be restored; the message is for whoever typed the command."""


def tables() -> list[type[models.Model]]:
    """Every table that is kept, the auto-created ones between two others included."""
    found = [m for m in apps.get_models(include_auto_created=True) if m._meta.managed and not m._meta.proxy]
    return [m for m in found if m._meta.label not in LEFT_OUT]


def migrations() -> list[list[str]]:
    if not MigrationRecorder(connection).has_table():
        return []
    rows = MigrationRecorder.Migration.objects.values_list("app", "name").order_by("app", "name")
    return [list(row) for row in rows]


def write_archive(to: io.BufferedIOBase | io.BytesIO) -> dict[str, Any]:
    """Write everything to a zip, in one snapshot of the database. Returns the manifest."""
    manifest: dict[str, Any] = {
        "format": FORMAT,
        "made_at": timezone.now().isoformat(),
        "rows": {},
        "files": {},
    }
    with zipfile.ZipFile(to, "w", zipfile.ZIP_DEFLATED) as archive, transaction.atomic():
        if connection.vendor == "postgresql":
            connection.cursor().execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        manifest["migrations"] = migrations()
        for model in tables():
            count, digest = 0, hashlib.sha256()
            with archive.open(f"rows/{model._meta.label}.jsonl", "w") as out:
                for line in _lines(model):
                    out.write(line)
                    digest.update(line)
                    count += 1
            manifest["rows"][model._meta.label] = [count, digest.hexdigest()]
        for path in made_files():
            try:
                content = path.read_bytes()
            except FileNotFoundError:  # tidied away since; what is made is made again when somebody asks
                continue
            name = str(path.relative_to(settings.MADE_DIR))
            archive.writestr(f"files/{name}", content)
            manifest["files"][name] = hashlib.sha256(content).hexdigest()
        archive.writestr("manifest.json", json.dumps(manifest, indent=1))
    return manifest


def _lines(model: type[models.Model]) -> Iterator[bytes]:
    names = [field.attname for field in model._meta.concrete_fields]
    for row in model._base_manager.order_by("pk").values_list(*names).iterator(chunk_size=2000):
        yield json.dumps(dict(zip(names, row, strict=True)), cls=Exact).encode() + b"\n"


def made_files() -> list[Path]:
    root = Path(settings.MADE_DIR)
    return (
        sorted(p for p in root.rglob("*") if p.is_file() and not p.name.startswith("."))
        if root.exists()
        else []
    )


def _fernet(key: str, salt: bytes) -> Fernet:
    derived = Scrypt(salt=salt, length=32, n=2**15, r=8, p=1).derive(key.encode())
    return Fernet(base64.urlsafe_b64encode(derived))


def backup(folder: Path, key: str = "") -> Path:
    """Write a backup into the folder, whole or not at all. Its name says when it was made."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    buffer = io.BytesIO()
    write_archive(buffer)
    content = buffer.getvalue()
    if key:
        salt = secrets.token_bytes(16)
        content = MAGIC + salt + _fernet(key, salt).encrypt(content)
    stamp = timezone.now().strftime("%Y-%m-%d-%H%M%S")
    path = folder / f"practice-{stamp}.{'backup' if key else 'zip'}"
    partial = path.with_suffix(".part")
    try:
        partial.touch(mode=0o600)
        partial.write_bytes(content)
        partial.replace(path)
    except OSError:
        partial.unlink(missing_ok=True)
        raise
    return path


def open_archive(path: Path, key: str = "") -> zipfile.ZipFile:
    """The archive in a backup file. Raises BackupError when it is none, or the key does not open it."""
    content = path.read_bytes()
    if content.startswith(MAGIC):
        if not key:
            raise BackupError("This backup is encrypted. Give its key: BACKUP_KEY or --key.")
        salt, token = content[len(MAGIC) : len(MAGIC) + 16], content[len(MAGIC) + 16 :]
        try:
            content = _fernet(key, salt).decrypt(token)
        except InvalidToken as error:
            raise BackupError("This key does not open this backup, or the file is damaged.") from error
    try:
        return zipfile.ZipFile(io.BytesIO(content))
    except zipfile.BadZipFile as error:
        raise BackupError(f"{path.name} is not a backup of this program.") from error


def restore(path: Path, key: str = "") -> dict[str, Any]:
    """Restore into an empty installation, all or nothing. Returns the manifest.

    Raises BackupError when the installation is not empty, was migrated differently, or the file is damaged.
    """
    archive = open_archive(path, key)
    try:
        manifest: dict[str, Any] = json.loads(archive.read("manifest.json"))
    except KeyError as error:
        raise BackupError(f"{path.name} is not a backup of this program.") from error
    if not migrations():
        raise BackupError("This database has no tables yet. Make them first: manage.py migrate.")
    if manifest["format"] != FORMAT:
        raise BackupError(
            f"This backup has format {manifest['format']}; this version restores format {FORMAT}."
        )
    if apps.get_model("athletes.User").objects.exists():
        raise BackupError("This installation has people in it. A backup is restored into an empty one only.")
    if manifest["migrations"] != migrations():
        raise BackupError(
            "This backup was made by another version of the program. Install that version, restore, then upgrade."
        )
    with transaction.atomic():
        for model in tables():  # what a migration or the first visit put there
            model._base_manager.all()._raw_delete(connection.alias)
        for model in tables():
            _restore_rows(model, archive, manifest)
        _reset_numbers()
        _restore_files(archive, manifest)
    return manifest


def _restore_files(archive: zipfile.ZipFile, manifest: dict[str, Any]) -> None:
    for name, digest in manifest["files"].items():
        content = archive.read(f"files/{name}")
        if hashlib.sha256(content).hexdigest() != digest:
            raise BackupError(f"The file {name} in this backup is damaged.")
        target = (Path(settings.MADE_DIR) / name).resolve()
        if not target.is_relative_to(Path(settings.MADE_DIR).resolve()):
            raise BackupError(f"The file name {name} leads out of the folder for made files.")
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)


def _restore_rows(model: type[models.Model], archive: zipfile.ZipFile, manifest: dict[str, Any]) -> None:
    label = model._meta.label
    count, digest = manifest["rows"][label]
    content = archive.read(f"rows/{label}.jsonl")
    if hashlib.sha256(content).hexdigest() != digest or content.count(b"\n") != count:
        raise BackupError(f"The rows of {label} in this backup are damaged.")
    fields = {field.attname: field for field in model._meta.concrete_fields}
    rows = []
    for line in content.splitlines():
        values = {name: fields[name].to_python(value) for name, value in json.loads(line).items()}
        rows.append(model(**values))
    _keep_dates(model, rows)


def _keep_dates(model: type[models.Model], rows: list[models.Model]) -> None:
    """Insert as they were: a field that sets itself to now must not."""
    stamped = [
        f
        for f in model._meta.concrete_fields
        if getattr(f, "auto_now_add", False) or getattr(f, "auto_now", False)
    ]
    was = [(f, f.auto_now_add, f.auto_now) for f in stamped]  # type: ignore[attr-defined]
    for field in stamped:
        field.auto_now_add = field.auto_now = False  # type: ignore[attr-defined]
    try:
        model._base_manager.bulk_create(rows, batch_size=BATCH)
    finally:
        for field, add, now in was:
            field.auto_now_add, field.auto_now = add, now  # type: ignore[attr-defined]


def _reset_numbers() -> None:
    """PostgreSQL counts on from the highest restored number."""
    statements = connection.ops.sequence_reset_sql(no_style(), tables())
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def backup_folder() -> Path:
    return Path(settings.BACKUP_DIR)


def run_backup() -> BackupRun:
    """One backup with its row, good or not; the oldest files beyond the last fourteen go."""
    run = BackupRun(at=timezone.now())
    try:
        path = backup(backup_folder(), settings.BACKUP_KEY)
        run.file, run.size = str(path), path.stat().st_size
    except OSError as error:
        run.error = f"{type(error).__name__}: {error}"[:300]
    run.save()
    for old in sorted(backup_folder().glob("practice-*"))[:-KEEP]:
        old.unlink(missing_ok=True)
    return run


@carries("backup")
def nightly(job: Job) -> None:
    run = run_backup()
    if not run.good:
        raise BackupError(run.error)


def write_nightly_row(now: datetime | None = None) -> None:
    """One row a day; the key is the day, so it is written once."""
    key = f"{(now or timezone.now()).date()}"
    if not Job.objects.filter(kind="backup", key=key).exists():
        enqueue("backup", key)


def last_good() -> BackupRun | None:
    return BackupRun.objects.filter(error="").first()


def is_late(now: datetime | None = None) -> bool:
    """No good backup for eight days."""
    last = last_good()
    return last is None or (now or timezone.now()) - last.at > WARN_AFTER
