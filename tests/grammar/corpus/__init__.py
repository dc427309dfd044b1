"""The corpus: what people say and what it must be read as, in *.jsonl and contexts.json; `loader` reads and judges it."""
