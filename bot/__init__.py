"""The shell around grammar and handlers: rooms, speech, record, timers, settings, command line."""

import os

os.environ["ORT_DISABLE_TELEMETRY"] = "1"
"""onnxruntime would else keep a device number in the home folder and report to its maker; its Privacy.md names this
switch. Nothing said or done here leaves the machine but through the rooms that were set up."""

__version__ = "0.2.0"
