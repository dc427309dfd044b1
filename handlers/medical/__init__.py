"""Medical first response: arrest clock, oxygen, hand-over. Intervals are announced; no treatment is ordered."""
