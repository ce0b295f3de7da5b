"""``survey.json``: what the survey was made from, how many stations and why, what it promises."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping

from zoning.contracts import program_version
from zoning.model import Survey
from zoning.outputs.plain import plain


def survey_json(survey: Survey, files: Mapping[str, bytes]) -> bytes:
    """Return the account of a survey, with the SHA-256 of every other file.

    The hashes tell later whether a form was filled in, so that it is never written over.

    Parameters
    ----------
    survey
        The survey.
    files
        Contents of the other files, by name.
    """
    document = {
        "field": survey.settings.field.name,
        "kind": "first survey" if survey.first else "next stations",
        "working_crs": survey.working_crs,
        "version": program_version(),
        "inputs": [
            {"role": each.role, "name": each.name, "sha256": each.sha256} for each in survey.files
        ],
        "facts": dict(survey.facts),
        "notices": [
            {"level": each.level, "code": each.code, "text": each.text} for each in survey.notices
        ],
        "outputs": {name: hashlib.sha256(data).hexdigest() for name, data in files.items()},
    }
    text = json.dumps(plain(document), indent=2, ensure_ascii=False, allow_nan=False)
    return f"{text}\n".encode()
