"""The learned reader beside the rules: it tags a message, proposes readings, and judges what the rules propose.

`words` says a reading in plain words; `pieces` cuts text for the network; `network` runs it (onnxruntime, loaded only
when it is asked for); `proposals` are readings of its own; `settle` decides together with the rules.
"""
