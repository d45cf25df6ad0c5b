"""The tests of offbook: each name is a sentence that must hold."""
