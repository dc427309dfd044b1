"""The shell around grammar and handlers: rooms, speech, store, timers, settings, command line."""
