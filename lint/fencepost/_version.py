"""The version, apart so that the build can read it without importing the engine."""

VERSION = "0.1.0"
