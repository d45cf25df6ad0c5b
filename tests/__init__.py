"""The tests of offbook. The name of each test is a sentence that must be true."""
