"""Measurements that take minutes, apart from the tests that take seconds."""
