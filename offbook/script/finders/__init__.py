"""Finders: each looks at a page of plain text for one kind of thing that is not spoken, and marks it."""
