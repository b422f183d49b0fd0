"""The built-in rules, one module each. Every `Rule` class in a module of this package is found by itself."""
