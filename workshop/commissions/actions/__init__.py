"""The commissions room: actions by part."""
