"""The documents of the wire: what is read strictly and written exactly."""
