"""The built-in recogniser: features, token table, network, search, and the `Ear` that puts them together."""
