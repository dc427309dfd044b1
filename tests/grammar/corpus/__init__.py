"""The corpus: what people say and what it must be read as (*.jsonl, contexts.json); `loader` reads and judges it."""
