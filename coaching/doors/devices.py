"""A device in words, so that people know their own in a list."""

from __future__ import annotations

LONGEST_READ = 400


def device_words(user_agent: str) -> str:
    """`Chrome Mobile on Android`, from the header by ua-parser; the version is left out, it changes."""
    from ua_parser import parse  # slow to load (0.7 s), and needed only when somebody signs in

    found = parse(user_agent[:LONGEST_READ])
    browser = found.user_agent.family if found.user_agent else "A browser"
    system = f" on {found.os.family}" if found.os else ""
    return f"{browser}{system}"
