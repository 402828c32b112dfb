"""The books keep no rows of their own: every figure is worked out from the rooms below."""
