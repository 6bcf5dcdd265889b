"""Folders of results: which pages, sheets and files stand in each, written whole."""
