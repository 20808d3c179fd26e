"""The one visual language of all pictures."""
