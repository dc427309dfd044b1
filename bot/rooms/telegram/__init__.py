"""Telegram: `serve` runs the bot; each file is one part of it, from updates coming in to messages going out."""
