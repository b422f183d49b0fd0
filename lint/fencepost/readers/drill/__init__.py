"""Drill files: Excellon, XNC and Gerber."""
