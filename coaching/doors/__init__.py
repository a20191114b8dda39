"""The doors: sign in by password, one-time link or passkey; the second step; joining; one's own account."""
