// After a passkey is made, the page is loaded again and shows it.
document.addEventListener("otp_webauthn.register_complete", () => window.location.reload());
