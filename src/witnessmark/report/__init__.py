"""An answer, written down: as one page, as plain text, as JSON."""

from witnessmark.report.json import assessment_json
from witnessmark.report.page import render_page
from witnessmark.report.terminal import assessment_text, findings_text

__all__ = ["assessment_json", "assessment_text", "findings_text", "render_page"]
