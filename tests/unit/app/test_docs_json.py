"""The page on JSON and the published schema of measurements are those in force."""

from __future__ import annotations

import json
import re

from tests.architecture.sources import ROOT
from witnessmark.app.measuredjson import RecordingDocument, measurements_schema
from witnessmark.app.predicted import PredictionDocument, ShownDocument, prediction_schema
from witnessmark.app.rehearse import RehearsalDocument, rehearsal_schema
from witnessmark.report.document import AssessmentDocument

PAGE = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")


def test_the_published_schema_is_the_one_in_force() -> None:
    published = ROOT / "docs" / "schema" / "measurement.schema.json"
    assert json.loads(published.read_text(encoding="utf-8")) == measurements_schema(), (
        "docs/schema/measurement.schema.json is out of date: write measurements_schema() into it anew"
    )


def test_the_published_schema_of_predictions_is_the_one_in_force() -> None:
    published = ROOT / "docs" / "schema" / "prediction.schema.json"
    assert json.loads(published.read_text(encoding="utf-8")) == prediction_schema(), (
        "docs/schema/prediction.schema.json is out of date: write prediction_schema() into it anew"
    )


def test_the_published_schema_of_rehearsals_is_the_one_in_force() -> None:
    published = ROOT / "docs" / "schema" / "rehearsal.schema.json"
    assert json.loads(published.read_text(encoding="utf-8")) == rehearsal_schema(), (
        "docs/schema/rehearsal.schema.json is out of date: write rehearsal_schema() into it anew"
    )


def test_the_page_names_every_key() -> None:
    documents = (AssessmentDocument, RecordingDocument, PredictionDocument, ShownDocument, RehearsalDocument)
    keys = {key for document in documents for key in document.__annotations__}
    assert [key for key in keys if not re.search(rf"`{key}`", PAGE)] == []


def test_every_schema_it_speaks_of_is_there() -> None:
    for link in re.findall(r"\]\((schema/[\w.]+)\)", PAGE):
        assert (ROOT / "docs" / link).is_file()
