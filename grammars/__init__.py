"""Lark grammars of the text formats, shipped as data."""
