"""Lanes, overview, cursors and notes: the pictures of channels."""
