"""Pages for people: how they are drawn, their templates and style sheet."""
