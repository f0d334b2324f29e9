"""Parameter logs as tables: from the bytes of a file to columns, before anybody says what a column means."""

from witnessmark.recording.logtable.channels import channel_table, with_uses
from witnessmark.recording.logtable.column import LogColumn, Undecoded
from witnessmark.recording.logtable.layout import Layout
from witnessmark.recording.logtable.order import TimeBlock, TimeCandidate, time_blocks, time_candidates
from witnessmark.recording.logtable.read import log_table, read_log_table
from witnessmark.recording.logtable.table import CutRow, LogTable
from witnessmark.recording.logtable.times import RowTimes
from witnessmark.recording.logtable.traces import ColumnUse, log_recording

__all__ = [
    "ColumnUse",
    "CutRow",
    "Layout",
    "LogColumn",
    "LogTable",
    "RowTimes",
    "TimeBlock",
    "TimeCandidate",
    "Undecoded",
    "channel_table",
    "log_recording",
    "log_table",
    "read_log_table",
    "time_blocks",
    "time_candidates",
    "with_uses",
]
