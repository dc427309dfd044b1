"""The officer's side: benchmarks, clocks, people, air, Mayday, the record."""
