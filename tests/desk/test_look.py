"""The look: contrast by WCAG 2.2 worked out from the tokens, weight on the wire, nothing inline."""

import gzip
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.template import Context, Template

STATIC = Path(settings.BASE_DIR) / "static"
TEMPLATES = Path(settings.BASE_DIR) / "templates"


def tokens(scheme):
    """Name to colour for light or dark."""
    text = (STATIC / "tokens.css").read_text()
    light, dark = re.findall(r":root \{(.*?)\}", text, re.S)[:2]
    pattern = r"--([\w-]+): (#[0-9a-f]{3,6})"
    found = dict(re.findall(pattern, light))
    return found if scheme == "light" else found | dict(re.findall(pattern, dark))


def luminance(colour):
    """Relative luminance, WCAG 2.2 definition."""
    digits = colour[1:] if len(colour) == 7 else "".join(digit * 2 for digit in colour[1:])
    channels = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    """Contrast ratio, WCAG 2.2 definition: 1 to 21."""
    bright, dim = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


def test_the_measure_itself():
    # WCAG 2.2: black on white is 21:1; #767676 on white is the well-known last grey above 4.5:1 (from memory).
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#fff") == pytest.approx(4.54, abs=0.005)


SURFACES = ["paper", "sheet", "wash", "accent-wash", "alert-wash"]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("surface", SURFACES)
@pytest.mark.parametrize("letter", ["ink", "soft", "accent", "alert"])
def test_letters_are_readable_on_every_surface(scheme, surface, letter):
    # WCAG 2.2, 1.4.3: 4.5:1 for text.
    named = tokens(scheme)
    assert contrast(named[letter], named[surface]) >= 4.5


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_letters_are_readable_on_the_main_button(scheme):
    named = tokens(scheme)
    assert contrast(named["accent-ink"], named["accent"]) >= 4.5


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("surface", SURFACES[:3])
@pytest.mark.parametrize("mark", ["edge", "accent", "alert", "soft"])
def test_controls_and_marks_stand_out(scheme, surface, mark):
    # WCAG 2.2, 1.4.11: 3:1 for the border of a control, a focus ring, a bar of a chart.
    named = tokens(scheme)
    assert contrast(named[mark], named[surface]) >= 3


def test_every_colour_of_the_pages_comes_from_the_tokens():
    for name in ("base.css", "desk.css", "phone.css"):
        text = re.sub(r"/\*.*?\*/|@media print \{.*", "", (STATIC / name).read_text(), flags=re.S)
        assert not re.findall(r"#[0-9a-fA-F]{3,8}\b|rgba?\(|hsla?\(", text), name
        used = set(re.findall(r"var\(--([\w-]+)\)", text))
        assert used <= set(re.findall(r"--([\w-]+):", (STATIC / "tokens.css").read_text())), name


def test_the_phones_styles_are_light():
    # The whole first view has 60 kB (issue: the athlete's phone); htmx takes some 17 of them.
    sheets = b"".join((STATIC / name).read_bytes() for name in ("tokens.css", "base.css", "phone.css"))
    assert len(gzip.compress(sheets)) < 9_000


def web_templates():
    return [
        path
        for path in sorted(TEMPLATES.rglob("*.html"))
        if "print" not in path.parts and "mail" not in path.parts
    ]


@pytest.mark.parametrize("path", web_templates(), ids=lambda path: str(path.relative_to(TEMPLATES)))
def test_no_style_and_no_script_inside_a_page(path):
    # The content policy would drop them without a word.
    text = re.sub(r"\{%.*?%\}|\{\{.*?\}\}", "", path.read_text(), flags=re.S)
    assert not re.search(r"\sstyle\s*=|<style|\son\w+\s*=|hx-on|hx-vals=.js:|javascript:", text)
    assert not re.search(r"<script(?![^>]*\bsrc=)", text)


def test_a_field_ties_its_hint_and_its_error_to_the_control():
    from django import forms

    class Result(forms.Form):
        time = forms.CharField(label="Time", help_text="As 43:10.")
        days = forms.MultipleChoiceField(
            label="Free days", choices=[("0", "Mon")], widget=forms.CheckboxSelectMultiple
        )
        agreed = forms.BooleanField(label="I have read the cautions")

    shown = Template('{% for field in form %}{% include "_field.html" %}{% endfor %}').render(
        Context({"form": Result({"time": ""})})
    )
    control = re.search(r'<input type="text"[^>]*>', shown)[0]
    assert 'aria-describedby="id_time_helptext id_time_error"' in control
    assert 'aria-invalid="true"' in control
    assert '<p class="hint" id="id_time_helptext">As 43:10.</p>' in shown
    assert '<div class="error" id="id_time_error">This field is required.</div>' in shown
    assert re.search(
        r'<fieldset class="field" aria-describedby="id_days_error">\s*<legend>Free days</legend>', shown
    )
    assert 'id="id_days_error"' in shown
    assert re.search(
        r'<label for="id_agreed"><input type="checkbox"[^>]*> I have read the cautions</label>', shown
    )
