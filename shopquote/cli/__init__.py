"""Typer commands: parse words, call one service, show the result.

May import everything; nothing imports it.
"""
