"""Netlists for bare board test: IPC-D-356, A and B."""
