"""Sessions in the database that know whose they are. Django's documented way to extend its own engine."""

from __future__ import annotations

from typing import Any

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore as DatabaseStore

from coaching.models.doors import DeviceSession


class SessionStore(DatabaseStore):
    @classmethod
    def get_model_class(cls) -> type[DeviceSession]:
        return DeviceSession

    def create_model_instance(self, data: dict[str, Any]) -> DeviceSession:
        row = super().create_model_instance(data)
        assert isinstance(row, DeviceSession)
        row.user_id = int(data[SESSION_KEY]) if data.get(SESSION_KEY) else None
        row.device = str(data.get("device", ""))[:80]
        known = DeviceSession.objects.filter(pk=row.session_key).values_list("began", flat=True).first()
        if known:
            row.began = known
        return row
