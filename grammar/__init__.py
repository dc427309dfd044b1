"""Words to commands: what a person said or typed becomes typed commands, a question back, or nothing."""
