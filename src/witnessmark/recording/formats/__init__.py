"""The formats that can be read: a table of names; the code of one is loaded when it is first looked at."""

FORMATS: dict[str, str] = {
    "answer_lines": "witnessmark.recording.formats.answer_lines",
    "candump": "witnessmark.recording.formats.candump",
    "trc": "witnessmark.recording.formats.trc",
    "asc": "witnessmark.recording.formats.asc",
    "blf": "witnessmark.recording.formats.blf",
    "mdf4": "witnessmark.recording.formats.mdf4",
    "edge_csv": "witnessmark.recording.formats.edge_csv",
    "sampled_csv": "witnessmark.recording.formats.sampled_csv",
    "parameter_csv": "witnessmark.recording.formats.parameter_csv",
}
"""Name of each format and the module that reads it, in the order in which they are asked."""
