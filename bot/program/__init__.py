"""The running program: put together, kept in order, its own log; and a rehearsal of it in memory."""
