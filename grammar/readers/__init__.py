"""The readers: each knows one purpose and offers scored readings of a stretch of a message."""
