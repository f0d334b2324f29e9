"""The formats that can be read: a table of names; the code of one is loaded when it is first looked at."""

FORMATS: dict[str, str] = {
    "candump": "witnessmark.recording.formats.candump",
    "edge_csv": "witnessmark.recording.formats.edge_csv",
    "sampled_csv": "witnessmark.recording.formats.sampled_csv",
    "parameter_csv": "witnessmark.recording.formats.parameter_csv",
}
"""Name of each format and the module that reads it, in the order in which they are asked."""
